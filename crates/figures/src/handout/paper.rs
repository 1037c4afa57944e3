//! Sizes of paper.

use std::borrow::Cow;

#[cfg(feature = "pdf")]
use crate::paper::page::Format;

/// Paper of a handout.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Paper {
    /// 210 by 297 mm.
    A4,
    /// 8.5 by 11 inches, with the words of the United States.
    Letter,
    /// 148 by 210 mm: the same size of words on more pages.
    A5,
    /// 297 by 420 mm: A4 with everything larger, to hang up or to share.
    A3,
    /// 11 by 17 inches, everything larger, with the words of the United States.
    Tabloid,
}

impl Paper {
    /// A sentence of ours in the words of those who print on this paper: who reads on
    /// US Letter calls a veterinary surgeon a veterinarian.
    pub(crate) fn words(self, text: &str) -> Cow<'_, str> {
        match self {
            Self::A4 | Self::A5 | Self::A3 => text.into(),
            Self::Letter | Self::Tabloid => {
                text.replace("veterinary surgeon", "veterinarian").into()
            }
        }
    }

    /// Width, height and margin, mm.
    pub(super) fn mm(self) -> (f64, f64, f64) {
        match self {
            Self::A4 => (210.0, 297.0, 14.0),
            Self::Letter => (215.9, 279.4, 14.0),
            Self::A5 => (148.0, 210.0, 9.0),
            Self::A3 => (297.0, 420.0, 19.8),
            Self::Tabloid => (279.4, 431.8, 19.8),
        }
    }

    /// The name of the size in a style sheet.
    pub(super) fn name(self) -> &'static str {
        match self {
            Self::A4 => "A4",
            Self::Letter => "letter",
            Self::A5 => "A5",
            Self::A3 => "A3",
            Self::Tabloid => "11in 17in",
        }
    }

    /// How many times as large everything is as on A4.
    pub(super) fn scale(self) -> f64 {
        match self {
            Self::A4 | Self::Letter | Self::A5 => 1.0,
            Self::A3 | Self::Tabloid => std::f64::consts::SQRT_2,
        }
    }

    /// The page as it is set, before it is scaled.
    #[cfg(feature = "pdf")]
    pub(super) fn format(self) -> Format {
        let (width, height, margin) = self.mm();
        let scale = self.scale();
        Format::mm(width / scale, height / scale, margin / scale)
    }
}
