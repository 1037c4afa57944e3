// Runs the golden set on wasm32 and compares its hash: see tests/tests/golden.rs.
import { readFileSync } from "node:fs";

const module = await WebAssembly.instantiate(readFileSync(process.argv[2]));
const { golden_hash, golden_expected } = module.instance.exports;
const hex = (hash) => "0x" + BigInt.asUintN(64, hash).toString(16).padStart(16, "0");
const [hash, expected] = [golden_hash(), golden_expected()].map(hex);
console.log(`wasm32: ${hash}, expected ${expected}`);
process.exit(hash === expected ? 0 : 1);
