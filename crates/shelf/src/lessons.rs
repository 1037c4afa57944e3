//! The lessons, in the order in which they are best learnt: the bench first, then
//! settings, then faults, then carbon dioxide, the whole case last.

use crate::Lesson;

macro_rules! lessons {
    ($($id:literal shown as $word:literal builds on $needs:expr;)*) => {
        /// Every lesson, from first to last.
        pub const LESSONS: [Lesson; [$($id),*].len()] = numbered([$(Lesson {
            number: 0,
            id: $id,
            word: $word,
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
    "loose-taper-before-the-first-patient" shown as "first-test" builds on [];
    "two-gauges-one-truth" shown as "loan" builds on [];
    "thumb-and-click" shown as "sealed" builds on ["loose-taper-before-the-first-patient"];
    "short-cycles-on-the-bench" shown as "port-shut" builds on ["loose-taper-before-the-first-patient"];
    "hours-before-the-first-patient" shown as "counters" builds on [];
    "parts-on-the-table" shown as "parts" builds on ["loose-taper-before-the-first-patient"];
    "where-the-gas-goes-out" shown as "wren" builds on ["parts-on-the-table"];
    "the-whole-morning" shown as "morning" builds on ["parts-on-the-table", "hours-before-the-first-patient", "thumb-and-click"];
    "biscuit-settings-from-weight" shown as "biscuit" builds on [];
    "harlow-the-flow-must-grow" shown as "harlow" builds on ["biscuit-settings-from-weight"];
    "tansy-a-stiff-chest" shown as "tansy" builds on ["biscuit-settings-from-weight"];
    "bracken-litres-over-flow" shown as "bracken" builds on ["harlow-the-flow-must-grow"];
    "juno-the-loose-joint" shown as "juno" builds on ["loose-taper-before-the-first-patient", "biscuit-settings-from-weight"];
    "otter-the-cuff" shown as "otter" builds on ["juno-the-loose-joint"];
    "ruff-one-test-parts-two" shown as "ruff" builds on ["juno-the-loose-joint"];
    "fig-off-first" shown as "fig" builds on ["two-gauges-one-truth", "biscuit-settings-from-weight"];
    "clover-rapid-short-cycles" shown as "clover" builds on ["biscuit-settings-from-weight"];
    "ember-flow-through-a-wet-filter" shown as "ember" builds on ["fig-off-first"];
    "saffron-normal-peak-half-a-breath" shown as "saffron" builds on ["tansy-a-stiff-chest"];
    "nettle-turn-the-flow-down" shown as "nettle" builds on ["tansy-a-stiff-chest", "clover-rapid-short-cycles"];
    "quill-undo-what-you-did" shown as "quill" builds on ["tansy-a-stiff-chest"];
    "dapple-worse-with-every-breath" shown as "dapple" builds on ["saffron-normal-peak-half-a-breath"];
    "pip-four-millilitres" shown as "pip" builds on ["biscuit-settings-from-weight"];
    "moss-cold-then-hot" shown as "moss" builds on ["pip-four-millilitres"];
    "rowan-treat-the-cause" shown as "rowan" builds on ["pip-four-millilitres"];
    "teasel-and-the-lights-out" shown as "teasel" builds on ["hours-before-the-first-patient"];
    "marlow-the-whole-case" shown as "marlow" builds on ["moss-cold-then-hot", "rowan-treat-the-cause", "quill-undo-what-you-did"];
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
            let number = lesson.number.to_string();
            for word in [lesson.id, first, lesson.word, &number, &first.to_uppercase()] {
                assert_eq!(crate::lesson(word), Ok(lesson), "{word}");
            }
            assert_eq!(crate::shown(lesson.id), lesson.word);
        }
        for word in ["0", "99", "", "zzz", "-"] {
            assert!(crate::lesson(word).is_err(), "{word}");
        }
        let told = |word| crate::lesson(word).expect_err(word).to_string();
        assert!(told("m").contains("`moss` or `marlow`"));
        assert!(told("saffon").ends_with("did you mean `saffron`?"));
    }

    #[test]
    fn law_a_word_tells_nothing_that_is_not_told_before_the_lesson() {
        for lesson in &LESSONS {
            let scenario = tidewright_scenario::parse(lesson.id, lesson.text).expect(lesson.id);
            let aims = scenario.training.expect(lesson.id).objectives;
            let face = aims.into_iter().map(|aim| aim.says.to_string());
            let face: String = face.chain(scenario.title).chain(scenario.story).collect();
            let face = face.to_lowercase();
            for part in lesson.word.split('-') {
                assert!(face.contains(part), "{}: `{part}`", lesson.id);
            }
        }
    }
}
