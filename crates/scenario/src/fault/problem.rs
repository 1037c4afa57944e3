//! The kinds of problem, with their data.

/// What is wrong. The words for each are in one place, `Problem::words`.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Problem {
    // The file as a whole
    /// Larger than a scenario may be.
    TooBig {
        /// Most bytes.
        most: usize,
    },
    /// Not text in UTF-8.
    NotUtf8,

    // The writing
    /// The text ends where something must follow.
    EndsEarly {
        /// What must follow.
        expected: String,
    },
    /// Something follows after the scenario's end.
    TextAfterEnd {
        /// What follows.
        found: String,
    },
    /// A character that has no meaning there.
    Unexpected {
        /// What stands there.
        found: String,
        /// What may stand there.
        expected: String,
    },
    /// A bracket without its partner.
    Unclosed {
        /// The opening bracket.
        bracket: char,
        /// The missing closing one.
        closing: char,
    },
    /// A closing bracket of another kind.
    WrongBracket {
        /// What stands there.
        found: char,
        /// What closes the block.
        expected: char,
    },
    /// Brackets within brackets beyond reason.
    TooDeep {
        /// Deepest nesting that is read.
        most: usize,
    },
    /// Two entries without a comma between them.
    MissingComma,
    /// `;` in place of a comma.
    Semicolon,
    /// A field name without its colon.
    MissingColon {
        /// The name.
        name: String,
    },
    /// `=` in place of the colon.
    EqualsSign {
        /// The name before it.
        name: String,
    },
    /// `name:` inside a list.
    NameInList {
        /// The name.
        name: String,
    },
    /// A text without its closing quote.
    OpenText,
    /// `'` in place of `"`.
    SingleQuote,
    /// A backslash before something that it does not go with.
    BadEscape {
        /// Backslash and character.
        found: String,
    },
    /// A comment without its end.
    OpenComment,
    /// A blank other than space, tab and line end.
    OddBlank {
        /// The character.
        code: char,
    },
    /// Not a number.
    BadNumber {
        /// What stands there.
        found: String,
    },
    /// A number with a unit behind it.
    NumberWithUnit {
        /// The number.
        number: String,
        /// The unit.
        unit: String,
    },
    /// Valid in RON but not in JSON.
    NotJson {
        /// What it is.
        what: &'static str,
        /// What JSON has in its place.
        expected: &'static str,
        /// What to do.
        mend: &'static str,
    },
    /// Valid in JSON but not in RON.
    NotRon {
        /// What it is.
        what: &'static str,
        /// What RON has in its place.
        expected: &'static str,
        /// What to do.
        mend: &'static str,
    },

    // The content
    /// A number where text belongs, and so on.
    WrongKind {
        /// Field or block that it is the value of.
        field: String,
        /// What belongs there.
        expected: String,
        /// What stands there.
        found: &'static str,
        /// What to write.
        mend: String,
    },
    /// A field that the block does not have.
    UnknownField {
        /// Block.
        block: String,
        /// Field as written.
        found: String,
        /// Fields of the block.
        known: Vec<&'static str>,
        /// Block nearby that does have it.
        home: Option<Home>,
    },
    /// A word that is not one of the choices.
    UnknownWord {
        /// Field or block that it is the value of.
        field: String,
        /// Word as written.
        found: String,
        /// The choices.
        known: Vec<&'static str>,
    },
    /// A block that is named after something else.
    WrongName {
        /// Name as written.
        found: String,
        /// Name that may be written.
        expected: &'static str,
    },
    /// A field that must be there.
    MissingField {
        /// Block.
        block: String,
        /// Field.
        field: &'static str,
        /// What its value looks like.
        expected: String,
    },
    /// A field that is there already.
    RepeatedField {
        /// Field.
        field: String,
    },
    /// A value without a name in a block.
    UnnamedValue {
        /// Block.
        block: String,
        /// It is a number, perhaps half of one with a decimal comma.
        number: bool,
        /// Fields of the block.
        known: Vec<&'static str>,
    },
    /// A choice that takes nothing was given something.
    TakesNothing {
        /// The choice.
        word: &'static str,
    },
    /// A choice that takes something was given nothing.
    TakesSomething {
        /// The choice.
        word: &'static str,
        /// How to write it.
        example: String,
    },
    /// A number outside its range.
    OutOfRange {
        /// Field.
        field: String,
        /// Number as written.
        found: String,
        /// Unit.
        unit: &'static str,
        /// Smallest allowed.
        min: f64,
        /// Largest allowed.
        max: f64,
        /// Advice of the field itself, if it has any.
        hint: &'static str,
    },
    /// A number that must be whole.
    NotWhole {
        /// Field.
        field: String,
    },
    /// A text or list that is too long or too short.
    WrongLength {
        /// Field.
        field: String,
        /// What is counted.
        of: &'static str,
        /// How many there are.
        found: usize,
        /// Fewest allowed.
        min: usize,
        /// Most allowed.
        max: usize,
    },
    /// A text with characters that have no place in it.
    OddText {
        /// Field.
        field: String,
        /// What the text may hold.
        expected: &'static str,
        /// What to write.
        mend: String,
    },

    /// A curve that does not rise from one point to the next.
    NotRising {
        /// Field.
        field: String,
    },

    // Values that do not go together
    /// The breath would end before it begins.
    CyclingNotAbovePeep {
        /// Cycling pressure, cmH2O.
        cycling: f64,
        /// End-expiratory pressure, cmH2O.
        end_expiratory: f64,
    },
    /// Timeline entries that are not in order of time.
    OutOfOrder {
        /// Time of the entry, s.
        at_s: f64,
        /// Time of the entry before it, s.
        before_s: f64,
    },
    /// An entry of a timeline or of a log at or after the end.
    AfterEnd {
        /// Time of the entry, s.
        at_s: f64,
        /// The end, s.
        duration_s: f64,
    },
    /// A fault that is put right before it comes.
    OverBefore {
        /// When it is put right, s.
        until_s: f64,
        /// When it begins, s.
        at_s: f64,
    },
    /// A lung that would change its number of compartments during the run.
    OtherCompartments {
        /// Compartments of the new lung.
        found: usize,
        /// Compartments at the start.
        expected: usize,
    },
    /// Gas flows into a rigid space without an outlet.
    NoPressure,
    /// A name that nothing in the file has.
    UnknownReference {
        /// What is named: an objective, a question, a value.
        what: &'static str,
        /// Name as written.
        found: String,
        /// Names that there are.
        known: Vec<String>,
    },
    /// A name that something else has already.
    RepeatedId {
        /// The name.
        found: String,
    },
    /// More controls offered than a student can follow.
    TooManyControls {
        /// How many there are.
        found: usize,
        /// Most allowed.
        most: usize,
    },
    /// The two ends of a range in the wrong order.
    RangeReversed {
        /// The first, which should be the smaller.
        first: f64,
        /// The second.
        second: f64,
    },
    /// A tube that is described by itself and by the lung.
    TwoTubes,
    /// A chest wall around a typical lung, whose compliance holds one already.
    WallOfTypicalLung,
    /// A hole that leads into the chest of a patient without a chest wall.
    NoChestWall,
    /// Efforts that last longer than the time from one to the next.
    EffortTooLong {
        /// Duration and delay together, s.
        takes_s: f64,
        /// Time from one to the next, s.
        every_s: f64,
    },
    /// Something of gas exchange in a run without it.
    NoGas {
        /// What needs it.
        what: &'static str,
    },
    /// Tissue that gives way slowly, out of nothing during the run.
    NoSlowTissue,
    /// A limb that would turn rigid with gas in it.
    LimbLosesGas,
    /// Settings that the engine does not accept for another reason.
    Refused {
        /// The reason in its words.
        why: String,
    },
    /// `assembly` and something else say how the circuit is.
    AssemblyAlone,
    /// More breaths than a run may have.
    TooManyBreaths {
        /// Breaths that the settings could ask for.
        breaths: f64,
        /// Most allowed.
        most: f64,
    },
    /// Values that do not go together, in the words of who reads the format.
    Unfit {
        /// What is wrong.
        message: String,
        /// What should stand there.
        expected: String,
        /// One way to mend it.
        mend: String,
    },
}

/// Where a field belongs that stands in the wrong block.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Home {
    /// In a block around this one.
    Around,
    /// In this field of the block.
    Within(&'static str),
}

impl Problem {
    /// A text from a file, short and harmless enough for a message.
    pub(crate) fn shown(text: &str) -> String {
        let head: String = text.chars().take(40).collect();
        let mut shown = crate::visible(&head).replace('\n', "\\n").replace('\t', "\\t");
        if text.chars().nth(40).is_some() {
            shown.push('…');
        }
        shown
    }
}
