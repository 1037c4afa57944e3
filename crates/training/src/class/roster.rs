//! The roster of a class.

use tidewright_scenario::format::Id;

use super::table::{Line, TableError, TableFault, quoted, read};

/// Reads the pseudonyms of a roster: the column `pseudonym` of a table parted by commas,
/// semicolons or tabs, its name and the pseudonyms in any case. They are kept in small
/// letters. Empty lines are left out.
///
/// # Errors
/// [`TableError`] with every fault and its line.
///
/// ```
/// use tidewright_training::class::roster;
/// let ids = roster("Pseudonym;bench\nHeron-1;2\nteal-4;3\n")?;
/// assert_eq!(ids[0].as_str(), "heron-1");
/// let error = roster("pseudonym\nA. Person\nteal\nteal\n").unwrap_err();
/// assert_eq!((error.0[0].line, error.0[1].line), (2, 4));
/// # Ok::<(), tidewright_training::class::TableError>(())
/// ```
pub fn roster(text: &str) -> Result<Vec<Id>, TableError> {
    let mut faults = Vec::new();
    let mut ids: Vec<Id> = Vec::new();
    let mut known = std::collections::BTreeMap::new();
    for Line { line, cells } in read(text, &["pseudonym"], &mut faults) {
        let found = quoted(&cells[0]);
        let mut note = |what| faults.push(TableFault { line, what });
        let Ok(id) = crate::words::command::pseudonym(&cells[0].to_ascii_lowercase()) else {
            note(format!(
                "`{found}` is no pseudonym: use letters, digits and hyphens, never a name"
            ));
            continue;
        };
        match known.insert(id.clone(), line) {
            Some(first) => note(format!("`{found}` is there twice: line {first} has it too")),
            None => ids.push(id),
        }
    }
    if ids.is_empty() && faults.is_empty() {
        let what = "it names nobody: write a pseudonym on each line below the first".to_owned();
        faults.push(TableFault { line: 1, what });
    }
    faults.sort_by_key(|fault| fault.line);
    if faults.is_empty() { Ok(ids) } else { Err(TableError(faults)) }
}
