//! The names of parts and ports as words of a sentence, where nobody is to type them.

use tidewright::assembly::{Assembly, AssemblyError, At};

/// A name such as `sensing-line` in words.
pub(super) fn named_in_words(name: &str) -> String {
    match name.strip_prefix("t-piece") {
        Some(rest) if rest.is_empty() || rest.starts_with('-') => {
            format!("T-piece{}", rest.replace('-', " "))
        }
        _ => name.replace('-', " "),
    }
}

/// The path of the gas as [`Assembly::trace`] tells it, with names in words.
pub(super) fn in_words(assembly: &Assembly) -> Result<Vec<String>, AssemblyError> {
    let told = assembly.trace()?;
    let mut written: Vec<(String, String)> = Vec::new();
    for (part, piece) in assembly.pieces().iter().enumerate() {
        let name = named_in_words(&piece.name);
        for &port in piece.part.ports() {
            let id = assembly.name_of(At { part, port });
            let port = id.rsplit('.').next().unwrap_or_default().replace('-', " ");
            written.push((id, format!("{name} ({port})")));
        }
        written.push((piece.name.clone(), name));
    }
    Ok(told.iter().map(|said| replaced(said, &written)).collect())
}

/// Every word of a sentence that is one of these names, in words.
fn replaced(said: &str, written: &[(String, String)]) -> String {
    let words = said.split(' ').map(|word| {
        let bare = word.trim_end_matches([',', '.', ':', ';']);
        let stops = &word[bare.len()..];
        match written.iter().find(|(id, _)| id == bare) {
            Some((_, name)) => format!("{name}{stops}"),
            None => word.to_owned(),
        }
    });
    words.collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_become_words_and_sentences_keep_their_stops() {
        assert_eq!(named_in_words("t-piece"), "T-piece");
        assert_eq!(named_in_words("t-piece-2"), "T-piece 2");
        assert_eq!(named_in_words("t-pieces"), "t pieces");
        assert_eq!(named_in_words("sensing-line"), "sensing line");
        let mut circuit = Assembly::ready_made();
        assert!(circuit.separate("ventilator.sensing").is_ok());
        let told = in_words(&circuit).map(|told| told.join(" ")).unwrap_or_default();
        assert!(told.starts_with("Fresh gas comes from gas supply through"), "{told}");
        assert!(told.contains("to T-piece, near the patient."), "{told}");
        assert!(!told.contains("t-piece") && !told.contains("waste-tube"), "{told}");
    }
}
