//! The lessons, in the order in which they are best learnt: the bench first, then
//! settings, then faults, then carbon dioxide, the whole case last.

use crate::Lesson;

macro_rules! lessons {
    ($($id:literal builds on $needs:expr;)*) => {
        /// Every lesson, from first to last.
        pub const LESSONS: [Lesson; [$($id),*].len()] = numbered([$(Lesson {
            number: 0,
            id: $id,
            text: include_str!(concat!(env!("SHELF_TOP"), "/scenarios/training/", $id, ".ron")),
            needs: &$needs,
        }),*]);
    };
}

const fn numbered<const N: usize>(mut lessons: [Lesson; N]) -> [Lesson; N] {
    let mut i = 0;
    while i < N {
        lessons[i].number = i + 1;
        i += 1;
    }
    lessons
}

lessons! {
    "loose-taper-before-the-first-patient" builds on [];
    "two-gauges-one-truth" builds on [];
    "thumb-and-click" builds on ["loose-taper-before-the-first-patient"];
    "short-cycles-on-the-bench" builds on ["loose-taper-before-the-first-patient"];
    "hours-before-the-first-patient" builds on [];
    "parts-on-the-table" builds on ["loose-taper-before-the-first-patient"];
    "where-the-gas-goes-out" builds on ["parts-on-the-table"];
    "the-whole-morning" builds on ["parts-on-the-table", "hours-before-the-first-patient", "thumb-and-click"];
    "biscuit-settings-from-weight" builds on [];
    "harlow-the-flow-must-grow" builds on ["biscuit-settings-from-weight"];
    "tansy-a-stiff-chest" builds on ["biscuit-settings-from-weight"];
    "bracken-litres-over-flow" builds on ["harlow-the-flow-must-grow"];
    "juno-the-loose-joint" builds on ["loose-taper-before-the-first-patient", "biscuit-settings-from-weight"];
    "otter-the-cuff" builds on ["juno-the-loose-joint"];
    "ruff-one-test-parts-two" builds on ["juno-the-loose-joint"];
    "fig-off-first" builds on ["two-gauges-one-truth", "biscuit-settings-from-weight"];
    "clover-rapid-short-cycles" builds on ["biscuit-settings-from-weight"];
    "ember-flow-through-a-wet-filter" builds on ["fig-off-first"];
    "saffron-normal-peak-half-a-breath" builds on ["tansy-a-stiff-chest"];
    "nettle-turn-the-flow-down" builds on ["tansy-a-stiff-chest", "clover-rapid-short-cycles"];
    "quill-undo-what-you-did" builds on ["tansy-a-stiff-chest"];
    "dapple-worse-with-every-breath" builds on ["saffron-normal-peak-half-a-breath"];
    "pip-four-millilitres" builds on ["biscuit-settings-from-weight"];
    "moss-cold-then-hot" builds on ["pip-four-millilitres"];
    "rowan-treat-the-cause" builds on ["pip-four-millilitres"];
    "teasel-and-the-lights-out" builds on ["hours-before-the-first-patient"];
    "marlow-the-whole-case" builds on ["moss-cold-then-hot", "rowan-treat-the-cause", "quill-undo-what-you-did"];
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_lesson_is_valid_named_as_its_file_and_builds_on_earlier_ones() {
        for (index, lesson) in LESSONS.iter().enumerate() {
            let scenario = tidewright_scenario::parse(lesson.id, lesson.text).expect(lesson.id);
            assert_eq!(scenario.id.as_str(), lesson.id);
            assert!(scenario.training.is_some(), "{}", lesson.id);
            for needed in lesson.needs {
                assert!(LESSONS[..index].iter().any(|one| one.id == *needed), "{needed}");
            }
        }
    }

    #[test]
    fn a_lesson_is_found_by_number_by_name_and_by_a_beginning_that_no_other_has() {
        for lesson in &LESSONS {
            let first = lesson.id.split('-').next().unwrap_or_default();
            for word in [lesson.id, first, &lesson.number.to_string(), &first.to_uppercase()] {
                assert_eq!(crate::lesson(word), Ok(lesson), "{word}");
            }
        }
        for word in ["0", "99", "", "zzz", "-"] {
            assert!(crate::lesson(word).is_err(), "{word}");
        }
        let told = |word| crate::lesson(word).expect_err(word).to_string();
        assert!(told("m").contains("`moss-cold-then-hot` or `marlow-the-whole-case`"));
        assert!(told("saffon").ends_with("did you mean `saffron-normal-peak-half-a-breath`?"));
    }
}
