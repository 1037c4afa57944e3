//! What a field allows, and what it is when it is not written.

/// What a field allows.
#[derive(Clone, Copy, Debug)]
pub struct Rule {
    /// Smallest number, or fewest items or characters.
    pub min: f64,
    /// Largest number, or most items or characters.
    pub max: f64,
    /// Advice when the number is out of range.
    pub hint: &'static str,
    /// What the field is when it is not written.
    pub absent: Absent,
}

/// What a field is when it is not written.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Absent {
    /// It must be written.
    Fault,
    /// This number.
    Number(f64),
    /// This word.
    Word(&'static str),
    /// No items, or a block of which every field takes its own default.
    Empty,
    /// Nothing, which means this.
    Nothing(&'static str),
}

/// A number within these bounds, both allowed.
pub const fn number(min: f64, max: f64) -> Rule {
    Rule { min, max, hint: "", absent: Absent::Fault }
}

/// A text of 1 to `max` characters.
pub const fn text(max: u16) -> Rule {
    number(1.0, max as f64)
}

/// A list of this many items.
pub const fn list(min: u16, max: u16) -> Rule {
    number(min as f64, max as f64)
}

/// Whatever the type allows.
pub const fn any() -> Rule {
    number(f64::MIN, f64::MAX)
}

impl Rule {
    pub const fn hint(mut self, hint: &'static str) -> Self {
        self.hint = hint;
        self
    }

    pub const fn or(mut self, number: f64) -> Self {
        self.absent = Absent::Number(number);
        self
    }

    pub const fn or_word(mut self, word: &'static str) -> Self {
        self.absent = Absent::Word(word);
        self
    }

    pub const fn or_empty(mut self) -> Self {
        self.absent = Absent::Empty;
        self
    }

    pub const fn or_nothing(mut self, meaning: &'static str) -> Self {
        self.absent = Absent::Nothing(meaning);
        self
    }
}
