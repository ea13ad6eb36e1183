//! Parts of lots, with their roll numbers and legal descriptions.

/// The part of a lot that a parcel is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum LotPart {
    Whole,
    N,
    S,
    NW,
    NE,
    SW,
    SE,
    /// A house lot severed from the north half.
    House,
}

impl LotPart {
    /// Its number within the lot, and the words before the lot in its legal description.
    const fn serial_and_words(self) -> (u32, &'static str) {
        match self {
            Self::Whole => (100, ""),
            Self::N => (200, "North half of "),
            Self::S => (300, "South half of "),
            Self::NW => (410, "West part of north half of "),
            Self::NE => (420, "East part of north half of "),
            Self::SW => (510, "West part of south half of "),
            Self::SE => (520, "East part of south half of "),
            Self::House => (900, "Part of north half of "),
        }
    }
}

/// The roll number of a part of a lot, in an invented format.
pub(crate) fn roll(concession: usize, lot: usize, part: LotPart) -> String {
    let (serial, _) = part.serial_and_words();
    format!("0527-0{concession}0-{lot:03}-{serial:05}")
}

pub(crate) fn legal_description(concession: usize, lot: usize, part: LotPart) -> String {
    let (_, words) = part.serial_and_words();
    let concession = ["I", "II", "III"][concession - 1];
    format!("{words}Lot {lot}, Concession {concession}, Township of Oxpindle")
}
