//! The reader of reference tables.

use tidewright_tests::reference::rows;

#[test]
fn a_row_gives_its_text_and_numbers_by_column() {
    let rows = rows("worked-examples/data.csv");
    let leak = rows.iter().find(|row| row.text("example") == "leak-300-at-30").unwrap();
    assert_eq!(leak.text("source"), "Coleman D. Veterinary Team Brief, May 2016");
    assert_eq!(leak.number("value"), 300.0);
}

#[test]
#[should_panic(expected = "linear-breaths/machines.csv, row 2: no column weight")]
fn a_column_that_is_not_there_fails_the_test() {
    let _ = rows("linear-breaths/machines.csv")[0].number("weight");
}

#[test]
#[should_panic(expected = "linear-breaths/machines.csv, row 2: machine is \"cat\"")]
fn a_cell_that_is_no_number_fails_the_test() {
    let _ = rows("linear-breaths/machines.csv")[0].number("machine");
}
