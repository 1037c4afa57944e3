//! From the text of a figure file to a checked one.

use tidewright_scenario::{Rejected, Scenario, parse_as, text_of};

use crate::file::Figure;
use crate::file::checks;

impl Figure {
    /// Reads a figure file from its text.
    ///
    /// # Errors
    /// [`Rejected`] with every fault of the text, each with its place.
    ///
    /// ```
    /// let text = r#"Figure(
    ///     format: 1, id: "a-breath", title: "A breath", teaches: "Pressure rises in a line.",
    ///     scenario: "../scenarios/a.ron",
    ///     show: Time(to_s: 5, panels: [[AirwayPresure]]),
    /// )"#;
    /// let rejected = tidewright_figures::FigureFile::parse("a.ron", text).unwrap_err();
    /// assert_eq!(rejected.faults()[0].mend(), "did you mean `AirwayPressure`?");
    /// ```
    pub fn parse(file_name: &str, text: &str) -> Result<Self, Rejected> {
        parse_as(file_name, text, "Figure", checks::check)
    }

    /// Reads a figure file whose scenario is at hand, and checks that the scenario has
    /// what the figure asks for.
    ///
    /// # Errors
    /// [`Rejected`] with every fault of the text, each with its place: beside those of
    /// [`Figure::parse`], gas asked for from a scenario without `gas`.
    ///
    /// ```
    /// use tidewright_figures::FigureFile;
    /// let scenario = tidewright_scenario::parse("demo.ron", tidewright_scenario::DEMO).unwrap();
    /// let text = r#"Figure(
    ///     format: 1, id: "a-breath", title: "A breath", teaches: "Gas.", scenario: "demo.ron",
    ///     show: Time(to_s: 5, panels: [[AirwayPressure], [Capnogram]]),
    /// )"#;
    /// let rejected = FigureFile::parse_for("a.ron", text, &scenario).unwrap_err();
    /// let fault = &rejected.faults()[0];
    /// assert_eq!((rejected.place(fault).line, rejected.place(fault).column), (3, 53));
    /// assert!(fault.mend().contains("gas: ()"));
    /// ```
    pub fn parse_for(file_name: &str, text: &str, scenario: &Scenario) -> Result<Self, Rejected> {
        parse_as(file_name, text, "Figure", |file, root, faults| {
            checks::check(file, root, faults);
            checks::check_gas(file, scenario, root, faults);
        })
    }

    /// Reads a figure file from its bytes.
    ///
    /// # Errors
    /// [`Rejected`] with every fault of the text, or that it is not text at all.
    pub fn parse_bytes(file_name: &str, bytes: &[u8]) -> Result<Self, Rejected> {
        Self::parse(file_name, text_of(file_name, bytes)?)
    }
}
