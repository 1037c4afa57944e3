//! Exams: a sealed file, and what its log holds besides.

use crate::format::Id;
use crate::read::{block, list, number, text};

block! {
    /// A sealed exam.
    pub struct Sealed {
        /// Version of the format.
        format: u32 = number(1.0, 1.0),
        /// Its neutral name.
        exam: Id = text(64),
        /// What differs between two sealed files of one passphrase.
        salt: String = text(64),
        /// The sealed text, in pieces.
        text: Vec<String> = list(1, 10_000),
    }
}

block! {
    /// A sitting of an exam.
    pub struct Sitting {
        /// The how-manieth on this machine, from 1.
        number: u32 = number(1.0, 1000.0),
        /// A link for each act, in order.
        links: Vec<Link> = list(0, 10_000).or_empty(),
        /// The link that ends the chain.
        end: Option<String> = text(64).or_nothing("it was cut off"),
    }
}

/// A link of the chain of an exam's acts.
pub type Link = String;
