//! What is to be shared.

use thiserror::Error;

use crate::lands::LandIx;
use crate::money::Money;
use crate::sections::SectionIx;

/// What a cost is for, and so who bears it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum CostKind {
    /// Works of a section, shared among all land that uses it.
    Outlet,
    /// Benefit to one land, as entered.
    Benefit,
    /// Injuring liability of one land, as entered.
    Injuring,
    /// A feature for one land alone that has no effect on the drain's function.
    SpecialBenefit,
    /// What a road or utility makes the works cost more: the cost with it less the equivalent drain, which stays in the section.
    IncreasedCost,
    /// Engineering: of one land's special benefit or increased cost where a land is given, otherwise of the section's other works.
    Engineering,
    /// Paid to the owner of one land; it is part of the total assessed, and credited to that owner.
    Allowance,
}

impl CostKind {
    pub const ALL: [Self; 7] = [
        Self::Outlet,
        Self::Benefit,
        Self::Injuring,
        Self::SpecialBenefit,
        Self::IncreasedCost,
        Self::Engineering,
        Self::Allowance,
    ];

    pub const fn code(self) -> &'static str {
        match self {
            Self::Outlet => "outlet",
            Self::Benefit => "benefit",
            Self::Injuring => "injuring",
            Self::SpecialBenefit => "special_benefit",
            Self::IncreasedCost => "increased_cost",
            Self::Engineering => "engineering",
            Self::Allowance => "allowance",
        }
    }

    pub fn named(code: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.code() == code)
    }

    /// `None` where it may name a land or not.
    pub const fn names_a_land(self) -> Option<bool> {
        match self {
            Self::Outlet => Some(false),
            Self::Engineering => None,
            Self::Benefit | Self::Injuring | Self::SpecialBenefit | Self::IncreasedCost | Self::Allowance => Some(true),
        }
    }
}

/// A line of the costs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cost {
    pub section: SectionIx,
    pub kind: CostKind,
    /// Not negative.
    pub amount: Money,
    pub land: Option<LandIx>,
}

/// A cost that nobody could be assessed for; positions are those of the costs.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum FaultyCost {
    #[error("a cost of {amount}: negative")]
    Negative { cost: usize, amount: Money },
    #[error("a cost of kind {}: it {} a land", .kind.code(), if *.needs_land { "needs" } else { "takes no" })]
    Land { cost: usize, kind: CostKind, needs_land: bool },
    #[error("engineering of a land that has neither special benefit nor increased cost in the section")]
    EngineeringAlone { cost: usize },
    #[error("section {section:?}: no land of the watershed uses it, so that {amount} cannot be shared")]
    NobodyUses { section: String, amount: Money },
    #[error("section {section:?}: engineering and allowances of {amount}, and no works that they go with")]
    NoWorks { section: String, amount: Money },
}
