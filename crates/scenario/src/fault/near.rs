//! What was probably meant by a word that is none.

/// Words that people use for one another; the second is the one of the format.
const COUSINS: [(&str, &str); 5] = [
    ("closed", "shut"),
    ("clogged", "blocked"),
    ("obstructed", "blocked"),
    ("plugged", "blocked"),
    ("detached", "disconnected"),
];

/// What the trade calls a field, in small letters without a unit.
const TRADE: [(&str, &str); 12] = [
    ("peep", "end_expiratory_pressure_cmh2o"),
    ("pip", "cycling_pressure_cmh2o"),
    ("peak_inspiratory_pressure", "cycling_pressure_cmh2o"),
    ("peak_pressure", "cycling_pressure_cmh2o"),
    ("inspiratory_pressure", "cycling_pressure_cmh2o"),
    ("pressure", "cycling_pressure_cmh2o"),
    ("fgf", "fresh_gas_flow_l_min"),
    ("flow", "fresh_gas_flow_l_min"),
    ("inspiratory_time", "inspiratory_time_limit_s"),
    ("expiration", "expiratory_time_s"),
    ("compliance", "compliance_ml_cmh2o"),
    ("resistance", "resistance_cmh2o_s_l"),
];

/// The known word that was most likely meant by one that is none of them, or `None`
/// where none is like it: for `did you mean …?`.
///
/// Case, hyphens, spaces and the order of a word's parts do not count, a unit at its
/// end may be left out, and words of the trade lead to the field that is meant. Of two
/// that are equally like it the first wins; a word longer than 64 bytes is like none.
///
/// ```
/// use tidewright_scenario::fault::near;
/// assert_eq!(near("Suctoin", &["look", "listen", "suction"]), Some("suction"));
/// assert_eq!(near("dead-space", &["leak", "dead space"]), Some("dead space"));
/// assert_eq!(near("weather", &["leak", "dead space"]), None);
/// ```
#[must_use]
pub fn near<'a>(found: &str, known: &[&'a str]) -> Option<&'a str> {
    if found.len() > 64 {
        return None;
    }
    let found = parts(found);
    let whole = found.join("_");
    let in_trade = TRADE.iter().filter(|(theirs, _)| {
        whole.strip_prefix(theirs).is_some_and(|unit| unit.is_empty() || unit.starts_with('_'))
    });
    let in_trade = in_trade.filter_map(|(theirs, ours)| {
        known.iter().find(|known| *known == ours).map(|known| (theirs.len(), *known))
    });
    if let Some((_, known)) = in_trade.max_by_key(|(length, _)| *length) {
        return Some(known);
    }
    let by_likeness = |known: &&'a str| (likeness(&found, &parts(known)), *known);
    // Of equals the one declared first wins.
    let best = known.iter().rev().map(by_likeness).max_by(|a, b| a.0.total_cmp(&b.0));
    best.filter(|(likeness, _)| *likeness >= 0.55).map(|(_, word)| word)
}

/// From 0, nothing in common, to 1, the same but for case, hyphens and order.
fn likeness(found: &[String], known: &[String]) -> f64 {
    let whole = |parts: &[String]| parts.join("_");
    let in_order = |parts: &[String]| {
        let mut parts = parts.to_vec();
        parts.sort_unstable();
        parts
    };
    let (written, meant) = (whole(found), whole(known));
    // `weight` for `weight_kg`: the unit is easily forgotten.
    let unit_forgotten = written.len() > 1 && meant.starts_with(&format!("{written}_"));
    // `TubeKinked` for `KinkedTube`.
    if unit_forgotten || in_order(found) == in_order(known) {
        return 1.0;
    }
    strsim::normalized_damerau_levenshtein(&written, &meant)
}

/// `StuckClosed` as `stuck`, `shut`; `cycling-pressure` as `cycling`, `pressure`.
fn parts(word: &str) -> Vec<String> {
    let mut parts = vec![String::new()];
    let mut after_small = false;
    for c in word.chars() {
        let gap = matches!(c, '_' | '-' | ' ');
        if gap || (after_small && c.is_uppercase()) {
            parts.push(String::new());
        }
        if let Some(part) = parts.last_mut().filter(|_| !gap) {
            part.extend(c.to_lowercase());
        }
        after_small = c.is_lowercase();
    }
    for part in &mut parts {
        if let Some((_, ours)) = COUSINS.iter().find(|(theirs, _)| theirs == part) {
            *part = (*ours).to_owned();
        }
    }
    parts
}

#[cfg(test)]
mod tests {
    use super::near;

    #[test]
    fn cousins_and_another_order_are_understood_and_what_is_far_is_not() {
        let valve = ["Working", "StuckOpen", "StuckShut"];
        assert_eq!(near("StuckClosed", &valve), Some("StuckShut"));
        assert_eq!(near("stuck open", &valve), Some("StuckOpen"));
        assert_eq!(near("Wrking", &valve), Some("Working"));
        assert_eq!(near("Blue", &valve), None);
        assert_eq!(near("TubeKinked", &["CuffLeak", "KinkedTube"]), Some("KinkedTube"));
        assert_eq!(near("weight", &["name", "weight_kg"]), Some("weight_kg"));
        assert_eq!(near("at", &["at_s", "set"]), Some("at_s"));
    }

    #[test]
    fn words_of_the_trade_are_understood_where_the_field_belongs() {
        let controls = [
            "fresh_gas_flow_l_min",
            "cycling_pressure_cmh2o",
            "inspiratory_time_limit_s",
            "expiratory_time_s",
            "end_expiratory_pressure_cmh2o",
        ];
        assert_eq!(near("PEEP", &controls), Some("end_expiratory_pressure_cmh2o"));
        assert_eq!(near("peep_cmh2o", &controls), Some("end_expiratory_pressure_cmh2o"));
        for peak in ["pip", "peak_inspiratory_pressure_cmh2o", "PeakPressure"] {
            assert_eq!(near(peak, &controls), Some("cycling_pressure_cmh2o"), "{peak}");
        }
        assert_eq!(near("flow_l_min", &controls), Some("fresh_gas_flow_l_min"));
        assert_eq!(near("peep", &["species", "weight_kg"]), None);
        assert_eq!(near("peephole", &controls), None);
    }
}
