//! Reads the log of a session that is under way or was cut off: a line for everything
//! that happened, of which only the last may be broken.

use crate::fault::{Fault, Faults, Problem, Rejected};
use crate::file::size::{LARGEST_FILE, too_big};
use crate::format::{Attempt, Begun, Cut, CutOff, Entry, Sitting};
use crate::read::{Read, Reader, any};
use crate::text::{self, Dialect, Span};

/// The word that a journal begins with.
const FIRST: &str = "Journal(";

/// Whether a text is a journal, and not a log that was made whole: by its first line that
/// is no comment.
#[must_use]
pub fn is_journal(text: &str) -> bool {
    let text = text.strip_prefix('\u{FEFF}').unwrap_or(text);
    text.lines()
        .map(str::trim_start)
        .find(|line| is_entry(line))
        .is_some_and(|line| line.starts_with(FIRST))
}

fn is_entry(line: &str) -> bool {
    let line = line.trim();
    !line.is_empty() && !line.starts_with("//")
}

/// Reads a journal as the attempt that it holds so far.
pub(crate) fn read(file_name: &str, text: &str) -> Result<Attempt, Rejected> {
    if text.len() > LARGEST_FILE {
        return Err(too_big(file_name));
    }
    let text = text.strip_prefix('\u{FEFF}').unwrap_or(text);
    let mut faults = Faults::default();
    let mut so_far = SoFar::default();
    let mut start = 0;
    // What stands behind the last line end was being written when it was cut off.
    for line in text.split_inclusive('\n').filter(|line| line.ends_with('\n')) {
        let at = Span::new(start, start + line.trim_end().len());
        start += line.len();
        if !is_entry(line) {
            continue;
        }
        let entry = entry(line, at.start, &mut faults);
        if let Some(problem) = entry.and_then(|entry| so_far.take(entry)) {
            faults.push(Fault::new(at, problem));
        }
    }
    match so_far.attempt {
        Some(mut attempt) if faults.count() == 0 => {
            if !so_far.ended {
                attempt.cut_off = Some(so_far.cut.map_or(Cut::Unknown, |cut| cut.by));
            }
            Ok(attempt)
        }
        _ => {
            if faults.count() == 0 {
                faults.push(Fault::new(Span::new(0, 0), misplaced("its first line", "nothing")));
            }
            Err(Rejected::new(file_name, text, faults))
        }
    }
}

/// Reads one line; its faults stand where they stand in the whole text.
fn entry(line: &str, start: usize, faults: &mut Faults) -> Option<Entry> {
    let mut own = Faults::default();
    let root = text::parse(line, Dialect::Ron, &mut own);
    let mut reader = Reader { dialect: Dialect::Ron, faults: &mut own, around: Vec::new() };
    let entry = Entry::read(&root, "journal", &any(), &mut reader);
    let fault_free = own.count() == 0;
    own.shifted(start).for_each(|fault| faults.push(fault));
    entry.filter(|_| fault_free)
}

/// What the lines so far came to.
#[derive(Default)]
struct SoFar {
    attempt: Option<Attempt>,
    cut: Option<CutOff>,
    ended: bool,
}

impl SoFar {
    /// Takes the next line in; what is wrong with it.
    fn take(&mut self, entry: Entry) -> Option<Problem> {
        let Some(attempt) = &mut self.attempt else {
            return match entry {
                Entry::Journal(begun) => {
                    self.attempt = Some(Attempt::from(begun));
                    None
                }
                _ => Some(misplaced("its first line, `Journal(…)`", "another line")),
            };
        };
        if self.ended {
            return Some(misplaced("nothing after its end", "another line"));
        }
        let at_s = match &entry {
            Entry::Journal(_) => return Some(misplaced("one first line", "a second one")),
            Entry::Did(timed) => timed.at_s,
            Entry::Linked(_) | Entry::Asked(_) | Entry::Waits(_) => attempt.ended_at_s,
            Entry::Clock(at) | Entry::Ended(at) => at.at_s,
            Entry::CutOff(at) | Entry::TakenUp(at) => at.at_s,
        };
        let before_s = attempt.ended_at_s;
        if at_s < before_s {
            return Some(Problem::OutOfOrder { at_s, before_s });
        }
        attempt.ended_at_s = at_s;
        match entry {
            Entry::Did(timed) => attempt.acts.push(timed),
            Entry::Linked(link) => {
                if let Some(exam) = &mut attempt.exam {
                    exam.links.push(link.to);
                }
            }
            Entry::Asked(asked) => attempt.asked.push(asked),
            Entry::Waits(waits) => attempt.waits = waits.acts,
            Entry::CutOff(cut) => self.cut = Some(cut),
            Entry::TakenUp(cut) => {
                attempt.interrupted.push(cut);
                self.cut = None;
            }
            Entry::Ended(_) => self.ended = true,
            Entry::Journal(_) | Entry::Clock(_) => {}
        }
        None
    }
}

impl From<Begun> for Attempt {
    /// The log of a session in which nothing is done yet.
    fn from(begun: Begun) -> Self {
        let Begun { format, scenario, seed, engine, model, pseudonym, dealt, sitting } = begun;
        let exam = sitting.map(|number| Sitting { number, links: Vec::new(), end: None });
        Self {
            format,
            scenario,
            seed,
            engine,
            model,
            pseudonym,
            dealt,
            ended_at_s: 0.0,
            acts: Vec::new(),
            asked: Vec::new(),
            waits: Vec::new(),
            exam,
            interrupted: Vec::new(),
            cut_off: None,
        }
    }
}

fn misplaced(expected: &str, found: &'static str) -> Problem {
    Problem::WrongKind {
        field: "journal".to_owned(),
        expected: expected.to_owned(),
        found,
        mend: "leave the lines as the program wrote them".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::format::{Act, Answer, Id, Moment, Note, TimedAct};
    use crate::parse_attempt;

    fn id(text: &str) -> Id {
        let log = format!(
            "(format: 1, scenario: {text:?}, seed: 1, engine: \"1\", pseudonym: \"x\", ended_at_s: 0)"
        );
        parse_attempt("id.ron", &log).expect("an id").scenario
    }

    fn journal() -> (Vec<Entry>, Attempt) {
        let begun = Begun {
            format: 1,
            scenario: id("juno"),
            seed: 9,
            engine: "0.1.0".to_owned(),
            model: Some(7),
            pseudonym: id("heron-12"),
            dealt: None,
            sitting: None,
        };
        let note = Note { text: "leak \"at\" the\nY-piece, 5 µL \\ ]".to_owned() };
        let answer = Answer { question: id("cause"), choice: 2 };
        let cut = CutOff { at_s: 0.1 + 0.2, by: Cut::ClosedTerminal };
        let acts: Vec<TimedAct> = [(0.1, Act::Record(note)), (1.0 / 3.0, Act::Answer(answer))]
            .into_iter()
            .map(|(at_s, act)| TimedAct { at_s, act })
            .collect();
        let lines = vec![
            Entry::Journal(begun.clone()),
            Entry::Did(acts[0].clone()),
            Entry::CutOff(cut.clone()),
            Entry::TakenUp(cut.clone()),
            Entry::Did(acts[1].clone()),
            Entry::Clock(Moment { at_s: 7.25 }),
            Entry::Ended(Moment { at_s: 8.0 }),
        ];
        let whole =
            Attempt { ended_at_s: 8.0, acts, interrupted: vec![cut], ..Attempt::from(begun) };
        (lines, whole)
    }

    #[test]
    fn law_a_journal_cut_at_any_byte_holds_the_lines_that_were_whole() {
        let (lines, whole) = journal();
        let text: String = lines.iter().map(Entry::to_line).collect();
        assert_eq!(parse_attempt("a.ron", &text).expect("whole"), whole);
        let first = text.find('\n').expect("lines") + 1;
        for end in first..text.len() {
            let Some(part) = text.get(..end) else { continue };
            let read = parse_attempt("a.ron", part).expect("a journal that was cut off");
            assert!(whole.acts.starts_with(&read.acts));
            let done = part.lines().filter(|line| line.starts_with("Did(")).count();
            let cut =
                usize::from(!part.ends_with('\n') && part.rfind("\nDid(") == part.rfind('\n'));
            assert_eq!(read.acts.len(), done - cut, "{part}");
            assert!(read.cut_off.is_some());
        }
    }

    #[test]
    fn what_no_program_wrote_is_told_with_its_line() {
        let (lines, _) = journal();
        let line = |index: usize| lines[index].to_line();
        let begun = line(0);
        let wrong = [
            (format!("{begun}{}{}", line(5), line(4)), 3, "stands after"),
            (format!("{begun}{}{}", line(6), line(6)), 3, "journal"),
            (format!("{begun}{begun}"), 2, "journal"),
            (format!("{begun}Did(at_s: 1, act: Lissten)\n"), 2, "Lissten"),
            (format!("{begun}Did(at_s: -1, act: Listen)\nClock(at_s: x)\n"), 2, "-1"),
        ];
        for (text, place, said) in wrong {
            let rejected = parse_attempt("a.ron", &text).expect_err(&text);
            let fault = &rejected.faults()[0];
            assert_eq!(rejected.place(fault).line, place, "{text}");
            assert!(fault.to_string().contains(said), "{fault}");
        }
        assert!(parse_attempt("a.ron", begun.trim_end()).is_err(), "not one whole line");
    }
}
