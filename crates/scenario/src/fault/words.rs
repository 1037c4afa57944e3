//! The words for every problem: what is wrong, what was expected, one way to
//! mend it. They stand side by side so that they can be read, and translated,
//! together.

use super::phrases::{list, one_of, plain, range, short};
use super::{Home, Problem, near};

/// The words for one problem.
pub(super) struct Words {
    /// Short fixed name.
    pub code: &'static str,
    /// What is wrong.
    pub message: String,
    /// What was expected there.
    pub expected: String,
    /// One way to mend it.
    pub mend: String,
}

fn words(
    code: &'static str,
    message: impl Into<String>,
    expected: impl Into<String>,
    mend: impl Into<String>,
) -> Words {
    Words { code, message: message.into(), expected: expected.into(), mend: mend.into() }
}

impl Problem {
    pub(super) fn words(&self) -> Words {
        match self {
            // The file and its writing
            Self::TooBig { most } => words(
                "file-too-big",
                format!("a scenario file has at most {} KiB", most / 1024),
                "a smaller file",
                "check that this is the right file, or shorten its texts and timeline",
            ),
            Self::NotUtf8 => words(
                "not-utf8",
                "this is not text in UTF-8",
                "UTF-8",
                "save the file from a text editor with the encoding UTF-8",
            ),
            Self::EndsEarly { expected } => words(
                "ends-early",
                "the text ends here",
                expected,
                format!("write {expected} here"),
            ),
            Self::TextAfterEnd { found } => words(
                "text-after-end",
                format!("`{}` follows after the end of the scenario", Self::shown(found)),
                "nothing more",
                "remove it, or the bracket before it that closes the scenario too early",
            ),
            Self::Unexpected { found, expected } => words(
                "unexpected",
                format!("`{}` has no meaning here", Self::shown(found)),
                expected,
                match found.chars().next() {
                    // What word processors make of a straight one.
                    Some('“' | '”' | '„' | '«' | '»' | '‘' | '’') => {
                        "put straight double quotes around a text: \"like this\"".to_owned()
                    }
                    _ => format!("write {expected}, or remove it"),
                },
            ),
            Self::Unclosed { bracket, closing } => words(
                "unclosed",
                format!("this `{bracket}` is never closed"),
                format!("`{closing}` after its last entry"),
                format!("write `{closing}` where the block ends"),
            ),
            Self::WrongBracket { found, expected } => words(
                "wrong-bracket",
                format!("`{found}` cannot close this block"),
                format!("`{expected}`"),
                format!("write `{expected}`"),
            ),
            Self::TooDeep { most } => words(
                "too-deep",
                format!("more than {most} brackets inside one another"),
                "the next closing bracket",
                "close brackets before more are opened",
            ),
            Self::MissingComma => words(
                "missing-comma",
                "two entries without a comma between them",
                "`,`",
                "write a comma here",
            ),
            Self::Semicolon => {
                words("semicolon", "a semicolon between entries", "`,`", "write a comma")
            }
            Self::MissingColon { name } => words(
                "missing-colon",
                format!("`{}` is not followed by a colon", Self::shown(name)),
                "`:` behind the name",
                format!("write `{}: …`", Self::shown(name)),
            ),
            Self::EqualsSign { name } => words(
                "equals-sign",
                "`=` between a name and its value",
                "`:`",
                format!("write `{}: …`", Self::shown(name)),
            ),
            Self::NameInList { name } => words(
                "name-in-list",
                format!("`{}:` in a list, whose values have no names", Self::shown(name)),
                "a comma or `]`",
                "put brackets around the named values",
            ),
            Self::OpenText => words(
                "open-text",
                "this text has no closing quote",
                "a closing `\"`",
                "write `\"` at the end of the text; within a text, write `\\\"`",
            ),
            Self::SingleQuote => words(
                "single-quote",
                "text between single quotes",
                "`\"`",
                "put the text between double quotes",
            ),
            Self::BadEscape { found } => words(
                "bad-escape",
                format!("`{}` has no meaning in a text", Self::shown(found)),
                "one of `\\n`, `\\t`, `\\\"`, `\\\\`",
                "for a backslash itself write two of them",
            ),
            Self::OpenComment => words(
                "open-comment",
                "this comment never ends",
                "`*/` after the comment",
                "write `*/` at its end, or begin each line of it with `//`",
            ),
            Self::OddBlank { code } => words(
                "odd-blank",
                format!("a blank that is not a space (U+{:04X})", u32::from(*code)),
                "a space",
                "replace it by a space; such blanks come along when text is copied from a page",
            ),
            Self::BadNumber { found } => words(
                "bad-number",
                format!("`{}` is not a number", Self::shown(found)),
                "a number such as 1.2",
                "write digits with at most one decimal point",
            ),
            Self::NumberWithUnit { number, unit } => words(
                "number-with-unit",
                format!("`{}` behind a number", Self::shown(unit)),
                "the number alone",
                format!("write `{}`: the unit is in the field's name", Self::shown(number)),
            ),
            Self::NotJson { what, expected, mend } => {
                words("not-json", format!("{what} in a JSON file"), *expected, *mend)
            }
            Self::NotRon { what, expected, mend } => {
                words("not-ron", format!("{what} in a RON file"), *expected, *mend)
            }

            // Fields and their values, each for itself
            Self::WrongKind { field, expected, found, mend } => words(
                "wrong-kind",
                format!("`{field}` is {found}"),
                expected,
                mend,
            ),
            Self::UnknownField { block, found, known, home } => words(
                "unknown-field",
                format!("`{block}` has no field `{}`", Self::shown(found)),
                short(one_of(known), format!("a field of `{block}`")),
                match (home, near(found, known)) {
                    (Some(Home::Around), _) => {
                        "it belongs in a block around this one: is a closing bracket missing before it?"
                            .to_owned()
                    }
                    (Some(Home::Within(field)), _) => format!("it belongs in `{field}`"),
                    (None, Some(near)) => format!("did you mean `{near}`?"),
                    (None, None) => format!("remove it; `{block}` has {}", list(known)),
                },
            ),
            Self::UnknownWord { field, found, known } => words(
                "unknown-word",
                format!("`{field}` cannot be `{}`", Self::shown(found)),
                short(one_of(known), format!("one of its {} words", known.len())),
                near(found, known).map_or_else(
                    || format!("write {}", one_of(known)),
                    |near| format!("did you mean `{near}`?"),
                ),
            ),
            Self::WrongName { found, expected } => words(
                "wrong-name",
                format!("this block is called `{}`", Self::shown(found)),
                format!("`{expected}(…)`"),
                format!("write `{expected}(…)`, or leave the name out"),
            ),
            Self::MissingField { block, field, expected } => words(
                "missing-field",
                format!("`{block}` lacks `{field}`"),
                format!("`{field}` within it"),
                format!("add `{field}: …` with {expected}"),
            ),
            Self::RepeatedField { field } => words(
                "repeated-field",
                format!("`{}` is written twice", Self::shown(field)),
                "each field once",
                "remove one of the two",
            ),
            Self::UnnamedValue { block, number, known } => words(
                "unnamed-value",
                format!("a value without a name in `{block}`"),
                short(format!("{} before it", one_of(known)), "`name: value`".to_owned()),
                if *number {
                    "write the field's name before it; a decimal point is `.`, never a comma"
                } else {
                    "write the field's name and a colon before it"
                },
            ),
            Self::TakesNothing { word } => words(
                "takes-nothing",
                format!("`{word}` is followed by something"),
                format!("`{word}` alone"),
                format!("write `{word}`"),
            ),
            Self::TakesSomething { word, example } => words(
                "takes-something",
                format!("`{word}` stands alone"),
                format!("`{example}`"),
                format!("write `{example}`"),
            ),
            Self::OutOfRange { field, found, unit, min, max, hint } => words(
                "out-of-range",
                format!("`{field}` cannot be {}", Self::shown(found)),
                range(*min, *max, unit),
                if hint.is_empty() {
                    format!("write a number from {} to {}", plain(*min), plain(*max))
                } else {
                    (*hint).to_owned()
                },
            ),
            Self::NotWhole { field } => words(
                "not-whole",
                format!("`{field}` is not a whole number"),
                "a whole number",
                "write it without a decimal part",
            ),
            Self::WrongLength { field, of, found, min, max } => words(
                "wrong-length",
                format!("`{field}` has {found} {of}"),
                format!("{min} to {max} {of}"),
                if found > max { "shorten it" } else { "add to it" },
            ),
            Self::OddText { field, expected, mend } => words(
                "odd-text",
                format!("`{field}` holds characters that it may not"),
                *expected,
                mend,
            ),
            Self::NotRising { field } => words(
                "not-rising",
                format!("`{field}` do not rise here"),
                "more pressure and more volume than at the point before",
                "put the points in order, each at least 0.001 cmH2O and 0.001 mL above the one before",
            ),

            // Values that do not go together
            Self::CyclingNotAbovePeep { cycling, end_expiratory } => words(
                "cycling-not-above-peep",
                format!(
                    "a cycling pressure of {} cmH2O is not above the end-expiratory pressure of {} cmH2O",
                    plain(*cycling),
                    plain(*end_expiratory)
                ),
                format!("more than {} cmH2O", plain(*end_expiratory)),
                "raise the cycling pressure or lower the end-expiratory pressure: every inspiration would end at once",
            ),
            Self::OutOfOrder { at_s, before_s } => words(
                "out-of-order",
                format!("{} s stands after {} s in the list", plain(*at_s), plain(*before_s)),
                format!("{} s or later", plain(*before_s)),
                "put the entries in the order of their times",
            ),
            Self::AfterEnd { at_s, duration_s } => words(
                "after-end",
                format!("{} s is after the end at {} s", plain(*at_s), plain(*duration_s)),
                format!("a time before {} s", plain(*duration_s)),
                "let it come earlier, or let the end come later",
            ),
            Self::OverBefore { until_s, at_s } => words(
                "over-before",
                format!(
                    "a fault that begins at {} s is put right at {} s",
                    plain(*at_s),
                    plain(*until_s)
                ),
                format!("a time after {} s", plain(*at_s)),
                "let it end later, or leave out `until_s` if it stays",
            ),
            Self::OtherCompartments { found, expected } => words(
                "other-compartments",
                format!("a lung of {found} compartments follows one of {expected}"),
                format!("a lung of {expected}"),
                "keep the number of compartments; one that must take no gas can have a tiny compliance",
            ),
            Self::NoPressure => words(
                "no-pressure",
                "a rigid circuit with every way out shut has nowhere to put the gas, so no pressure can be computed",
                "somewhere for the gas to go",
                "give the circuit a compliance above 0 (real tubing has 0.1 mL/cmH2O or more), or a leak",
            ),
            Self::UnknownReference { what, found, known } => {
                let known: Vec<&str> = known.iter().map(String::as_str).collect();
                words(
                    "unknown-reference",
                    format!("there is no {what} `{}`", Self::shown(found)),
                    short(one_of(&known), format!("one of {} names", known.len())),
                    near(found, &known).map_or_else(
                        || format!("write {}", one_of(&known)),
                        |near| format!("did you mean `{near}`?"),
                    ),
                )
            }
            Self::RepeatedId { found } => words(
                "repeated-id",
                format!("something else is called `{}` already", Self::shown(found)),
                "a name of its own",
                "give it another name",
            ),
            Self::TooManyControls { found, most } => words(
                "too-many-controls",
                format!("{found} controls are offered"),
                format!("at most {most} controls"),
                "offer those that the lesson is about",
            ),
            Self::RangeReversed { first, second } => words(
                "range-reversed",
                format!("{} is above {}", plain(*first), plain(*second)),
                format!("at most {}", plain(*second)),
                "write the smaller number first",
            ),
            Self::TwoTubes => words(
                "two-tubes",
                "this lung has a tube resistance, and the patient has a `tube` besides",
                "one description of the tube",
                "leave out `tube_resistance_cmh2o_s_l`",
            ),
            Self::WallOfTypicalLung => words(
                "wall-of-typical-lung",
                "a chest wall is described, but no lung: the typical lung has its chest wall in its compliance",
                "a `lung` with the compliance of the lung alone",
                "add `lung` to `patient`, or leave out `chest_wall`",
            ),
            Self::NoChestWall => words(
                "no-chest-wall",
                "a hole leads from the lung into the chest, and nothing says how far the chest gives way",
                "a `chest_wall` of the patient",
                "add `chest_wall` to `patient`, or let the hole lead `to: Room`",
            ),
            Self::EffortTooLong { takes_s, every_s } => words(
                "effort-too-long",
                format!(
                    "an effort takes {} s with its delay, and the next follows after {} s",
                    plain(*takes_s),
                    plain(*every_s)
                ),
                format!("`duration_s` + `delay_s` below {} s", plain(*every_s)),
                "shorten the effort or its delay, or lower `rate_per_min`",
            ),
            Self::NoGas { what } => words(
                "no-gas",
                format!("{what}, and the run follows no gas"),
                "`gas` in the scenario",
                "add `gas: (),` to the scenario: it takes what is typical for the patient",
            ),
            Self::NoSlowTissue => words(
                "no-slow-tissue",
                "tissue that gives way slowly cannot appear during the run",
                "a patient who has `viscoelastic` from the start",
                "add `viscoelastic` to `patient`: with a resistance of 100000 it hardly gives way",
            ),
            Self::LimbLosesGas => words(
                "limb-loses-gas",
                "a limb that holds gas cannot turn rigid during the run",
                "a limb with a compliance above 0",
                "give this limb a compliance too: a very small one makes it hold almost nothing",
            ),
            Self::Refused { why } => words(
                "refused",
                why,
                "settings that can be run",
                "change the value named",
            ),
            Self::AssemblyAlone => words(
                "assembly-alone",
                "`assembly` says how the circuit is, and this says it again",
                "parts and joints alone",
                "leave this out, or leave out `assembly`",
            ),
            Self::TooManyBreaths { breaths, most } => words(
                "too-many-breaths",
                format!("these settings could ask for {} breaths", plain(breaths.round())),
                format!("at most {} breaths in a run", plain(*most)),
                "shorten `duration_s` or lengthen the expiratory time",
            ),
            Self::Unfit { message, expected, mend } => {
                words("unfit", message.as_str(), expected.as_str(), mend.as_str())
            }
        }
    }
}
