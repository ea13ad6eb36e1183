//! All costs shared among the lands.

use std::collections::BTreeMap;
use std::ops::AddAssign;

use typed_index_collections::TiSlice;

use crate::costs::{Cost, CostKind, FaultyCost};
use crate::lands::{Land, LandIx};
use crate::money::{Money, RoundingUnit};
use crate::sections::{SectionIx, Sections};
use crate::share_out::share_out;

/// What one land pays, by kind.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Assessed {
    pub benefit: Money,
    pub outlet: Money,
    pub injuring: Money,
    pub special_benefit: Money,
    pub increased_cost: Money,
}

impl Assessed {
    pub fn total(&self) -> Money {
        self.shared() + self.special_benefit + self.increased_cost
    }

    /// Benefit, outlet and injuring liability.
    pub fn shared(&self) -> Money {
        self.benefit + self.outlet + self.injuring
    }

    /// What is shared and entered, by kind.
    pub(crate) fn by_kind(&self) -> [(CostKind, Money); 3] {
        [(CostKind::Benefit, self.benefit), (CostKind::Outlet, self.outlet), (CostKind::Injuring, self.injuring)]
    }

    fn kind_mut(&mut self, kind: CostKind) -> Option<&mut Money> {
        match kind {
            CostKind::Outlet => Some(&mut self.outlet),
            CostKind::Benefit => Some(&mut self.benefit),
            CostKind::Injuring => Some(&mut self.injuring),
            CostKind::SpecialBenefit => Some(&mut self.special_benefit),
            CostKind::IncreasedCost => Some(&mut self.increased_cost),
            CostKind::Engineering | CostKind::Allowance => None,
        }
    }
}

impl AddAssign for Assessed {
    fn add_assign(&mut self, other: Self) {
        self.benefit += other.benefit;
        self.outlet += other.outlet;
        self.injuring += other.injuring;
        self.special_benefit += other.special_benefit;
        self.increased_cost += other.increased_cost;
    }
}

/// A schedule: what each land pays in each section.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Assessment {
    pub cells: BTreeMap<(LandIx, SectionIx), Assessed>,
    /// Credited to the owners of lands.
    pub allowances: BTreeMap<LandIx, Money>,
}

/// What a section costs, against what is assessed in it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Reconciliation {
    pub section: SectionIx,
    pub given: Money,
    pub assessed: Money,
}

impl Assessment {
    /// What a land pays in all sections.
    pub fn of(&self, land: LandIx) -> Assessed {
        let mut all = Assessed::default();
        self.sections_of(land).for_each(|(_, cell)| all += cell);
        all
    }

    /// What a land pays in each section that it pays in.
    pub fn sections_of(&self, land: LandIx) -> impl Iterator<Item = (SectionIx, Assessed)> + '_ {
        let own = (land, SectionIx(0))..(LandIx(land.0 + 1), SectionIx(0));
        self.cells.range(own).map(|(&(_, section), &cell)| (section, cell))
    }

    pub fn total(&self) -> Money {
        self.cells.values().map(Assessed::total).sum()
    }

    /// Section by section; both figures are equal, since shares sum to what is shared.
    pub fn reconciliation(&self, sections: &Sections, costs: &[Cost]) -> Vec<Reconciliation> {
        let of = |section: SectionIx| Reconciliation {
            section,
            given: costs.iter().filter(|cost| cost.section == section).map(|cost| cost.amount).sum(),
            assessed: self.cells.iter().filter(|((_, at), _)| *at == section).map(|(_, cell)| cell.total()).sum(),
        };
        sections.keys().map(of).collect()
    }

    pub(crate) fn add(&mut self, land: LandIx, section: SectionIx, kind: CostKind, amount: Money) {
        if amount == Money::ZERO {
            return;
        }
        let cell = self.cells.entry((land, section)).or_default();
        *cell.kind_mut(kind).expect("only kinds that lands pay are added") += amount;
    }
}

/// Shares all costs.
///
/// Special benefit and increased cost go to their lands first, with the engineering that names the land. Other engineering and
/// allowances of a section go with its outlet, benefit and injuring costs, in proportion (our choice). Outlet costs are shared by equivalent
/// area among all land that uses the section: that enters there or above. Shares are rounded within each section and kind.
///
/// *Complexity*: O(s n log n) for s sections and n lands.
///
/// # Errors
/// Every cost that nobody could be assessed for.
pub fn assess(
    sections: &Sections,
    lands: &TiSlice<LandIx, Land>,
    costs: &[Cost],
    unit: RoundingUnit,
) -> Result<Assessment, Vec<FaultyCost>> {
    let mut faults: Vec<FaultyCost> =
        costs.iter().enumerate().filter_map(|(at, cost)| faulty(at, cost, costs)).collect();
    if !faults.is_empty() {
        return Err(faults);
    }
    let weights = weights(sections, lands);
    let mut assessment = Assessment::default();
    for section in sections.keys() {
        let own: Vec<&Cost> = costs.iter().filter(|cost| cost.section == section).collect();
        if let Err(fault) = assess_section(&mut assessment, (sections, section), &own, &weights[section.0], unit) {
            faults.push(fault);
        }
    }
    if faults.is_empty() { Ok(assessment) } else { Err(faults) }
}

fn faulty(at: usize, cost: &Cost, costs: &[Cost]) -> Option<FaultyCost> {
    let &Cost { kind, amount, land, section } = cost;
    if amount < Money::ZERO {
        return Some(FaultyCost::Negative { cost: at, amount });
    }
    if let Some(needs_land) = kind.names_a_land().filter(|&needs| needs != land.is_some()) {
        return Some(FaultyCost::Land { cost: at, kind, needs_land });
    }
    let is_own = |other: &Cost| {
        other.section == section
            && other.land == land
            && matches!(other.kind, CostKind::SpecialBenefit | CostKind::IncreasedCost)
    };
    let is_alone = kind == CostKind::Engineering && land.is_some() && !costs.iter().any(is_own);
    is_alone.then_some(FaultyCost::EngineeringAlone { cost: at })
}

/// For each section the equivalent area of each land that uses it.
fn weights(sections: &Sections, lands: &TiSlice<LandIx, Land>) -> Vec<Vec<u128>> {
    let mut weights = vec![vec![0_u128; lands.len()]; sections.len()];
    for (land, own) in lands.iter_enumerated() {
        for entry in &own.entries {
            for section in sections.from(entry.section) {
                weights[section.0][land.0] += entry.weight();
            }
        }
    }
    weights
}

fn assess_section(
    assessment: &mut Assessment,
    (sections, section): (&Sections, SectionIx),
    costs: &[&Cost],
    weights: &[u128],
    unit: RoundingUnit,
) -> Result<(), FaultyCost> {
    let sum = |is_meant: &dyn Fn(&Cost) -> bool| -> Money {
        costs.iter().filter(|cost| is_meant(cost)).map(|cost| cost.amount).sum()
    };
    own_costs(assessment, section, costs);
    let entered: Vec<(LandIx, CostKind, Money)> = costs
        .iter()
        .filter(|cost| matches!(cost.kind, CostKind::Benefit | CostKind::Injuring))
        .filter_map(|cost| Some((cost.land?, cost.kind, cost.amount)))
        .collect();
    let outlet = sum(&|cost| cost.kind == CostKind::Outlet);
    let beside =
        sum(&|cost| cost.kind == CostKind::Allowance || (cost.kind == CostKind::Engineering && cost.land.is_none()));
    let works: Vec<u128> = std::iter::once(outlet)
        .chain(entered.iter().map(|&(_, _, amount)| amount))
        .map(|amount| amount.cents().unsigned_abs().into())
        .collect();
    let id = || sections.id(section).to_owned();
    let more = share_out(beside, unit, &works).ok_or_else(|| FaultyCost::NoWorks { section: id(), amount: beside })?;
    for (&(land, kind, amount), &more) in entered.iter().zip(&more[1..]) {
        assessment.add(land, section, kind, amount + more);
    }
    let outlet = outlet + more[0];
    let shares =
        share_out(outlet, unit, weights).ok_or_else(|| FaultyCost::NobodyUses { section: id(), amount: outlet })?;
    for (land, share) in shares.into_iter().enumerate() {
        assessment.add(LandIx(land), section, CostKind::Outlet, share);
    }
    Ok(())
}

/// What goes to one land: special benefit and increased cost with their engineering; and allowances, as credits.
pub(crate) fn own_costs(assessment: &mut Assessment, section: SectionIx, costs: &[&Cost]) {
    for cost in costs {
        let Some(land) = cost.land else { continue };
        match cost.kind {
            CostKind::SpecialBenefit | CostKind::IncreasedCost => assessment.add(land, section, cost.kind, cost.amount),
            CostKind::Engineering => {
                let increases = |other: &&&Cost| other.land == Some(land) && other.kind == CostKind::IncreasedCost;
                let kind = if costs.iter().any(|other| increases(&other)) {
                    CostKind::IncreasedCost
                } else {
                    CostKind::SpecialBenefit
                };
                assessment.add(land, section, kind, cost.amount);
            }
            CostKind::Allowance => *assessment.allowances.entry(land).or_default() += cost.amount,
            CostKind::Outlet | CostKind::Benefit | CostKind::Injuring => {}
        }
    }
}

#[cfg(test)]
#[path = "assess_tests.rs"]
mod tests;
