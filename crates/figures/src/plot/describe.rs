//! What a figure shows, in sentences made from its data.

use tidewright::breath::EndedBy;

use crate::file::Trace;
use crate::file::language::ENGLISH;
use crate::paper::theme;
use crate::plot::layout::Layout;
use crate::plot::marks::Density;
use crate::plot::note::Span;
use crate::plot::stack::Stack;
use crate::plot::ticks::number;

/// Most changes that a description lists one by one.
const MOST_CHANGES: usize = 12;

/// The description of any other stack of panels. A quiz gets no more than what is
/// drawn against what.
pub(crate) fn stack(stack: &Stack, layout: &Layout, teacher: bool) -> String {
    let mut names: Vec<String> = stack.panels.iter().map(|panel| within(panel.name)).collect();
    names.dedup();
    let names = names.join(", ");
    let along = stack.along.split(" (").next().unwrap_or_default().to_lowercase();
    let mut text = match (along.as_str(), stack.names.is_empty()) {
        ("", _) => format!("{} as bars for: {}.", capital(&names), stack.names.join("; ")),
        (along, true) => {
            let (start, end) = (number(stack.start_s), number(stack.end_s));
            format!("{} over {along}, from {start} to {end}.", capital(&names))
        }
        (along, false) => format!("{} for values of {along}.", capital(&names)),
    };
    if !teacher {
        return text;
    }
    let values = stack.panels.iter().flat_map(|panel| {
        let curves = panel.curves.iter().filter(|curve| curve.pen != theme::AREA);
        let curves = curves.filter_map(|curve| {
            let (low, high) = span(curve.pieces.iter().flatten().map(|point| point.1))?;
            let unit = panel.unit.replace('₂', "2");
            let name = within(panel.name);
            let name = if curve.label.contains(&name) { String::new() } else { name + ", " };
            Some(format!("{name}{}: {} {unit}", curve.label, between((low, high))))
        });
        let blocks = panel.blocks.iter().map(|block| block.value);
        let blocks = span(blocks).map(|values| {
            let unit = panel.unit.replace('₂', "2");
            format!("{}: {} {unit}", within(panel.name), between(values))
        });
        curves.chain(blocks).collect::<Vec<_>>()
    });
    let values = capital(&values.collect::<Vec<_>>().join("; "));
    let is_phase = |text: &str| ENGLISH.capnogram_phases.contains(&text);
    let measured = stack.notes.iter().filter(|(_, note)| !matches!(note.span, Span::At { .. }));
    let notes = measured.map(|(_, note)| note.text.clone()).filter(|text| !is_phase(text));
    let notes = notes.collect::<Vec<_>>().join("; ");
    let notes = (!notes.is_empty()).then(|| format!("Measured: {notes}."));
    let sentences = [
        breaths(stack),
        rise(stack),
        endings(stack),
        Some(format!("{values}.")),
        notes,
        changes(stack),
        left_out(stack, layout),
    ];
    let said = stack.said.iter().cloned();
    for sentence in sentences.into_iter().flatten().chain(said) {
        text.push(' ');
        text.push_str(&sentence);
    }
    text
}

/// The description of a waveform figure, and of what is behind its curves.
pub(crate) fn waveforms(stack: &Stack, layout: &Layout, ghost: Option<&str>) -> String {
    let sentences = [
        breaths(stack),
        rise(stack),
        endings(stack),
        ranges(stack),
        ghost.map(|label| format!("Grey lines behind show, to compare: {label}.")),
        changes(stack),
        left_out(stack, layout),
    ];
    let (start, end) = (number(stack.start_s), number(stack.end_s));
    let capnogram = ENGLISH.signal(Trace::Capnogram).key;
    let mut text = format!(
        "{} over time, from {start} s to {end} s.",
        match stack.panels.iter().any(|panel| panel.id == capnogram) {
            true => "Airway pressure, airway flow, lung volume and capnogram",
            false => "Airway pressure, airway flow and lung volume",
        }
    );
    for sentence in sentences.into_iter().flatten() {
        text.push(' ');
        text.push_str(&sentence);
    }
    text
}

fn breaths(stack: &Stack) -> Option<String> {
    let ends = &stack.breath_ends;
    let count = ends.len();
    let gaps = ends.windows(2).map(|pair| 60.0 / (pair[1].at_s - pair[0].at_s));
    let rates = span(gaps.filter(|rate| rate.is_finite()));
    let breaths = if count == 1 { "breath" } else { "breaths" };
    let many = capital(&count_word(count));
    match rates {
        _ if count == 0 => None,
        Some(rates) => Some(format!("{many} {breaths} at {} a minute.", between(rates))),
        None => Some(format!("{many} {breaths}.")),
    }
}

fn rise(stack: &Stack) -> Option<String> {
    let whole: Vec<(f64, f64)> = stack
        .phases
        .iter()
        .filter(|phase| phase.kind.is_inspiration() && phase.start_s >= stack.start_s)
        .filter_map(|phase| {
            let within = |at_s: f64| phase.start_s <= at_s && at_s <= phase.end_s;
            let end = stack.breath_ends.iter().find(|end| within(end.at_s))?;
            Some((end.at_s - phase.start_s, end.pressure_cmh2o))
        })
        .collect();
    let times = between(span(whole.iter().map(|w| w.0))?);
    let pressures = between(span(whole.iter().map(|w| w.1))?);
    Some(format!("Inspiration lasts {times} s and ends at {pressures} cmH2O."))
}

fn endings(stack: &Stack) -> Option<String> {
    let kinds = [
        (EndedBy::Pressure, "pressure"),
        (EndedBy::Time, "the time limit"),
        (EndedBy::Standby, "standby"),
    ];
    let ends = &stack.breath_ends;
    let counted = kinds.map(|(by, name)| (ends.iter().filter(|end| end.by == by).count(), name));
    let present: Vec<(usize, &str)> = counted.into_iter().filter(|(count, _)| *count > 0).collect();
    match present[..] {
        [] => None,
        [(1, name)] => Some(format!("It was ended by {name}.")),
        [(_, name)] => Some(format!("All were ended by {name}.")),
        _ => {
            let part = |(count, name): &(usize, &str)| format!("{} by {name}", count_word(*count));
            let parts: Vec<String> = present.iter().map(part).collect();
            Some(format!("Ended: {}.", parts.join(", ")))
        }
    }
}

fn ranges(stack: &Stack) -> Option<String> {
    let spans = stack.panels.iter().filter_map(|panel| {
        let curve = panel.curves.last()?;
        let (low, high) = span(curve.pieces.iter().flatten().map(|point| point.1))?;
        let (low, high, unit) = (number(low), number(high), panel.unit.replace('₂', "2"));
        Some(format!("{} lies between {low} and {high} {unit}", curve.label))
    });
    let spans: Vec<String> = spans.collect();
    Some(format!("{}.", capital(&spans.join(", "))))
}

fn changes(stack: &Stack) -> Option<String> {
    let listed = stack.events.iter().take(MOST_CHANGES);
    let unit = match stack.along {
        along if along == ENGLISH.time => " s",
        along if along == ENGLISH.minutes => " min",
        _ => "",
    };
    let mut list: Vec<String> =
        listed.map(|event| format!("at {}{unit}: {}", number(event.at_s), event.label)).collect();
    match stack.events.len() {
        0 => return None,
        all if all > MOST_CHANGES => list.push(format!("and {} more changes", all - MOST_CHANGES)),
        _ => (),
    }
    Some(format!("{}.", capital(&list.join("; "))))
}

/// What the figure had no room for.
fn left_out(stack: &Stack, layout: &Layout) -> Option<String> {
    let mut notes = Vec::new();
    let (all, marked) = (stack.breath_ends.len(), layout.marks.len());
    if marked < all {
        notes.push(format!("Marks are drawn for {marked} of the {all} ends of breaths."));
    }
    if matches!(layout.marks.density(), Density::Band(_)) {
        let bands = "Breaths are too many to be drawn one by one: \
                     bands reach from the lowest to the highest value.";
        notes.push(bands.to_owned());
    }
    if !layout.shading.shown && !stack.phases.is_empty() {
        notes.push("Phases are too short to be shaded.".to_owned());
    }
    let unlabelled = layout.flags.iter().filter(|flag| flag.words.is_none()).count();
    if unlabelled > 0 {
        notes.push(format!("{unlabelled} of the changes are drawn without their words."));
    }
    (!notes.is_empty()).then(|| notes.join(" "))
}

fn span(values: impl Iterator<Item = f64>) -> Option<(f64, f64)> {
    values.fold(None, |span, value| match span {
        None => Some((value, value)),
        Some((low, high)) => Some((low.min(value), high.max(value))),
    })
}

/// One number for values that agree to three figures, else both ends.
fn between((low, high): (f64, f64)) -> String {
    match (number(low), number(high)) {
        (low, high) if low == high => low,
        (low, high) => format!("{low} to {high}"),
    }
}

fn count_word(count: usize) -> String {
    const WORDS: [&str; 13] = [
        "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
        "eleven", "twelve",
    ];
    WORDS.get(count).map_or_else(|| count.to_string(), |word| (*word).to_owned())
}

/// A name within a sentence: no capital, but for what is written in capitals.
fn within(name: &str) -> String {
    let name = name.replace('₂', "2");
    let mut letters = name.chars();
    match (letters.next(), letters.next()) {
        (Some(first), Some(second)) if !second.is_uppercase() => {
            first.to_lowercase().chain(name.chars().skip(1)).collect()
        }
        _ => name,
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    match letters.next() {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => String::new(),
    }
}
