// Runs the golden set and the marks of all attempts on wasm32 and compares their
// hashes: see tests/tests/golden.rs.
import { readFileSync } from "node:fs";

const module = await WebAssembly.instantiate(readFileSync(process.argv[2]));
const exported = module.instance.exports;
const hex = (hash) => "0x" + BigInt.asUintN(64, hash).toString(16).padStart(16, "0");
let same = true;
for (const name of ["golden", "marking"]) {
  const [hash, expected] = [exported[`${name}_hash`](), exported[`${name}_expected`]()].map(hex);
  console.log(`wasm32 ${name}: ${hash}, expected ${expected}`);
  same &&= hash === expected;
}
process.exit(same ? 0 : 1);
