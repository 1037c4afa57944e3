//! The programs that somebody who embeds the model writes first: they run.

#[path = "../../crates/training/examples/driven_by_code.rs"]
mod driven_by_code;
#[path = "../../crates/tidewright/examples/gas_live.rs"]
mod gas_live;
#[path = "../../crates/tidewright/examples/real_time.rs"]
mod real_time;
#[path = "../../crates/tidewright/examples/waveform.rs"]
mod waveform;

#[test]
fn a_control_is_turned_in_mid_breath_in_real_time() {
    real_time::main().unwrap();
}

#[test]
fn a_waveform_becomes_a_list() {
    waveform::main().unwrap();
}

#[test]
fn gas_follows_a_change_while_the_run_goes_on() {
    gas_live::main().unwrap();
}

#[test]
fn a_session_is_left_and_taken_up_again() {
    driven_by_code::main().unwrap();
}
