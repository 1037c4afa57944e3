//! The plain loop: so many executions of each target, each with bytes of its own seed.

use std::io::Write as _;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::process::ExitCode;
use std::time::{Duration, Instant};

use clap::Parser;
use rand::{RngExt as _, SeedableRng};
use rand_pcg::Pcg64Mcg;
use tidewright_fuzz::spent::spent;
use tidewright_fuzz::{TARGETS, Target};

/// Most memory that the program may have taken at its end, KiB.
const MOST_KIB: u64 = 512 * 1024;

/// Hunts for panics, hangs and waste of memory; the same seeds hunt the same way
#[derive(Parser)]
struct Hunt {
    /// Targets [default: all]
    targets: Vec<String>,

    /// Executions of each target [default: so many that all take a minute]
    #[arg(long)]
    runs: Option<u64>,

    /// Seed of the first execution; the others follow it
    #[arg(long, default_value_t = 1)]
    from: u64,

    /// Stop each target after so many seconds
    #[arg(long)]
    seconds: Option<u64>,

    /// Print every text before a library gets it
    #[arg(long)]
    show: bool,
}

fn main() -> ExitCode {
    let hunt = Hunt::parse();
    let wanted = |target: &&Target| {
        hunt.targets.is_empty() || hunt.targets.iter().any(|name| name == target.name)
    };
    if hunt.show {
        tidewright_fuzz::show();
    }
    let mut sound = true;
    for target in TARGETS.iter().filter(wanted) {
        let begun = Instant::now();
        let (mut done, mut failed, mut slow) = (0, 0, 0);
        let mut slowest = (Duration::ZERO, hunt.from);
        let allowed = Duration::from_secs(target.most_s);
        for seed in hunt.from..hunt.from + hunt.runs.unwrap_or(target.short) {
            if hunt.seconds.is_some_and(|seconds| begun.elapsed().as_secs() >= seconds) {
                break;
            }
            let bytes = bytes(seed);
            let one = spent();
            let kept = catch_unwind(AssertUnwindSafe(|| (target.run)(&bytes)));
            let taken = spent().saturating_sub(one);
            done += 1;
            slowest = slowest.max((taken, seed));
            if kept.is_err() || taken > allowed {
                failed += u64::from(kept.is_err());
                slow += u64::from(taken > allowed);
                say(&format!("{} --from {seed} --runs 1: {taken:.1?}", target.name));
            }
        }
        let peak = peak_kib();
        sound &= failed == 0 && slow == 0 && peak.is_none_or(|peak| peak <= MOST_KIB);
        say(&format!(
            "{}: {done} executions from seed {} in {:.0} s, {failed} panics, {slow} above {} s, \
             slowest {:.2} s (seed {}), peak memory {} MiB",
            target.name,
            hunt.from,
            begun.elapsed().as_secs_f64(),
            target.most_s,
            slowest.0.as_secs_f64(),
            slowest.1,
            peak.map_or_else(|| "unknown".to_owned(), |peak| (peak / 1024).to_string()),
        ));
    }
    if sound { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

fn bytes(seed: u64) -> Vec<u8> {
    let mut random = Pcg64Mcg::seed_from_u64(seed);
    let mut bytes = vec![0; random.random_range(8..400)];
    random.fill(&mut bytes[..]);
    bytes
}

fn say(text: &str) {
    // A hunt whose reader has gone goes on.
    let _ = writeln!(std::io::stdout(), "{text}");
}

/// The most memory that the program has had, where the system tells.
fn peak_kib() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    line.split_whitespace().next()?.parse().ok()
}
