//! Paper sizes.

/// ISO 216 and the North American sizes (ANSI/ASME Y14.1), millimetres.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paper {
    #[default]
    Letter,
    ElevenBySeventeen,
    A4,
    A3,
}

impl Paper {
    pub const ALL: [Self; 4] = [Self::Letter, Self::ElevenBySeventeen, Self::A4, Self::A3];

    pub const fn name(self) -> &'static str {
        match self {
            Self::Letter => "letter",
            Self::ElevenBySeventeen => "11x17",
            Self::A4 => "a4",
            Self::A3 => "a3",
        }
    }

    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|paper| paper.name() == name)
    }

    /// The paper of the same family that is large enough for a plan above a profile.
    #[must_use]
    pub const fn large(self) -> Self {
        match self {
            Self::Letter | Self::ElevenBySeventeen => Self::ElevenBySeventeen,
            Self::A4 | Self::A3 => Self::A3,
        }
    }

    /// Width and height upright, millimetres.
    pub(crate) const fn upright_mm(self) -> (f64, f64) {
        match self {
            Self::Letter => (215.9, 279.4),
            Self::ElevenBySeventeen => (279.4, 431.8),
            Self::A4 => (210.0, 297.0),
            Self::A3 => (297.0, 420.0),
        }
    }
}
