//! The flow of a storm through every link, by one method.

use std::collections::BTreeMap;

use fallwright_hydraulics::{
    Branch, CurveNumber, OutOfRange, StormMethod, join, peak_discharge, rational_flow, removal_area, removal_flow,
};
use fallwright_units::{CubicMetresPerSecond, Hectares, Hours, Millimetres};
use typed_index_collections::{TiSlice, TiVec, ti_vec};

use super::choices::Choices;
use super::concentration::{Concentration, TWENTY_FOUR_HOURS_MIN};
use super::default_used::Assumed;
use super::links::{LinkIx, Links};
use super::rain;
use super::remark::Remark;
use super::tile::{TileFlow, hectares};
use super::to_measure::ToMeasure;
use crate::study::Study;

/// A storm's flow, with what it rests on.
#[derive(Clone, Debug, PartialEq)]
pub struct Storm {
    pub method: StormMethod,
    pub return_period_years: Option<f64>,
    /// Or what to measure or state first.
    pub flow: Result<CubicMetresPerSecond, ToMeasure>,
    pub assumed: Assumed,
    pub remarks: Vec<Remark>,
}

/// Land below which the removal curve was not published: 40 acres (Guide 1606, table 1), in hectares.
const LEAST_REMOVAL_HA: f64 = 16.0;
/// Land above which the rational method is not used: 200 acres (source not recorded), in hectares.
const MOST_RATIONAL_HA: f64 = 80.0;

/// The storm's flow at every link. Peaks are never summed with the tile design flow, which is added only as far as the
/// method does not hold it: from land whose surface water goes elsewhere, or all of it where the method gives direct
/// runoff alone.
pub(super) fn storms(
    study: &Study,
    links: &Links,
    choices: &Choices,
    tile: &TiSlice<LinkIx, TileFlow>,
) -> TiVec<LinkIx, Storm> {
    let mut assumed = Assumed::default();
    let method = choices.method(&mut assumed);
    let flows = match method {
        StormMethod::RemovalCurve => removal(study, links, choices, &mut assumed),
        StormMethod::Rational => rational(study, links, choices, &mut assumed),
        StormMethod::CurveNumber => curve_number(study, links, choices, &mut assumed),
    };
    let of = |(position, flow): (LinkIx, Result<CubicMetresPerSecond, ToMeasure>)| {
        let tile = tile[position];
        let beside = if method.includes_subsurface() { tile.from_elsewhere } else { tile.flow };
        let mut assumed = assumed.clone();
        if beside.cubic_metres_per_second() > 0.0 {
            choices.drainage_coefficient(&mut assumed);
        }
        Storm {
            method,
            return_period_years: choices.return_period_years().filter(|_| method != StormMethod::RemovalCurve),
            flow: flow.map(|flow| flow + beside),
            assumed,
            remarks: remark(method, hectares(study, links.cells[position])).into_iter().collect(),
        }
    };
    flows.into_iter_enumerated().map(of).collect()
}

fn remark(method: StormMethod, area: Hectares) -> Option<Remark> {
    let hectares = area.hectares();
    match method {
        StormMethod::RemovalCurve if hectares < LEAST_REMOVAL_HA => Some(Remark::SmallForRemovalCurve),
        StormMethod::Rational if hectares > MOST_RATIONAL_HA => Some(Remark::LargeForRational),
        _ => None,
    }
}

type Flows = TiVec<LinkIx, Result<CubicMetresPerSecond, ToMeasure>>;

/// The removal curve with the 20–40 rule where links meet; land beside a link moves its flow along the curve.
fn removal(study: &Study, links: &Links, choices: &Choices, assumed: &mut Assumed) -> Flows {
    let coefficient = choices.removal_coefficient(assumed);
    let upstream = links.upstream();
    let mut branches: TiVec<LinkIx, Branch> =
        ti_vec![Branch { area: Hectares::ZERO, flow: CubicMetresPerSecond::ZERO }; links.list.len()];
    let mut flows: Flows = ti_vec![Ok(CubicMetresPerSecond::ZERO); links.list.len()];
    for &link in &links.order {
        let arriving = upstream[link].iter().map(|&from| branches[from]).collect();
        match removal_at(coefficient, hectares(study, links.cells[link]), arriving) {
            Ok(branch) => {
                branches[link] = branch;
                flows[link] = Ok(branch.flow);
            }
            Err(fault) => flows[link] = Err(fault.into()),
        }
    }
    flows
}

fn removal_at(coefficient: f64, area: Hectares, mut arriving: Vec<Branch>) -> Result<Branch, OutOfRange> {
    arriving.sort_by(|a, b| b.area.hectares().total_cmp(&a.area.hectares()));
    let mut together: Option<Branch> = None;
    for branch in arriving {
        together = Some(match together {
            None => branch,
            Some(one) => join(coefficient, one, branch)?,
        });
    }
    let flow = match together {
        None => removal_flow(coefficient, area)?,
        Some(joined) => {
            // The area at which the curve has the joined flow, and the land beside the link.
            let beside = (area - joined.area).hectares().max(0.0);
            let at = removal_area(coefficient, joined.flow)?.hectares() + beside;
            removal_flow(coefficient, Hectares::from_hectares(at).expect("a sum of finite areas is finite"))?
        }
    };
    Ok(Branch { area, flow })
}

fn rational(study: &Study, links: &Links, choices: &Choices, assumed: &mut Assumed) -> Flows {
    let shared = || {
        let coefficient = choices.runoff_coefficient().ok_or(ToMeasure::RunoffCoefficient)?;
        let years = choices.return_period_years().ok_or(ToMeasure::ReturnPeriod)?;
        Ok::<_, ToMeasure>((coefficient, years))
    };
    let (coefficient, years) = match shared() {
        Ok(shared) => shared,
        Err(missing) => return ti_vec![Err(missing); links.list.len()],
    };
    let concentration = Concentration::of(study, choices, assumed);
    let flow = |link: LinkIx| {
        let hours = concentration.hours(study, links.list[link])?;
        let intensity = rain::intensity(&study.inputs.rainfall, years, hours)?;
        Ok(rational_flow(coefficient, intensity, hectares(study, links.cells[link]))?)
    };
    links.list.keys().map(flow).collect()
}

fn curve_number(study: &Study, links: &Links, choices: &Choices, assumed: &mut Assumed) -> Flows {
    let distribution = choices.rainfall_distribution(assumed);
    let shared = || {
        let numbers = curve_numbers(study, links, choices)?;
        let years = choices.return_period_years().ok_or(ToMeasure::ReturnPeriod)?;
        let depth = rain::depth(&study.inputs.rainfall, years, TWENTY_FOUR_HOURS_MIN)?;
        Ok::<_, ToMeasure>((numbers, depth))
    };
    let (numbers, depth): (CurveNumbers, Millimetres) = match shared() {
        Ok(shared) => shared,
        Err(missing) => return ti_vec![Err(missing); links.list.len()],
    };
    let concentration = Concentration::of(study, choices, assumed);
    let flow = |link: LinkIx| {
        let number = numbers[link].clone()?;
        // The method's table begins at 0.1 h.
        let hours = concentration.hours(study, links.list[link])?.hours().max(0.1);
        let hours = Hours::from_hours(hours)?;
        let area = hectares(study, links.cells[link]);
        Ok(peak_discharge(distribution, area, number, depth, hours, choices.pond_percent())?)
    };
    links.list.keys().map(flow).collect()
}

/// A curve number for each link, or what to add first.
type CurveNumbers = TiVec<LinkIx, Result<CurveNumber, ToMeasure>>;

/// The mean curve number of the land above each link: one cover, and the soil groups of its cells.
fn curve_numbers(study: &Study, links: &Links, choices: &Choices) -> Result<CurveNumbers, ToMeasure> {
    let cover = choices.cover().ok_or(ToMeasure::Cover)?;
    if study.inputs.soils.is_empty() {
        return Err(ToMeasure::SoilGroups);
    }
    let shapes: Vec<_> = study.inputs.soils.iter().map(|area| area.shape.clone()).collect();
    let soils = fallwright_land::cover(&study.setting.frame(), &shapes);
    // Cells of groups A to D, then those of which no group is known.
    let mut beside: BTreeMap<LinkIx, [u64; 5]> = BTreeMap::new();
    for cell in study.setting.parties.cells() {
        if let Some(link) = links.first_at(cell) {
            let group = (soils[cell] as usize).checked_sub(1).map_or(4, |area| study.inputs.soils[area].group);
            beside.entry(link).or_default()[group] += 1;
        }
    }
    let mut above: TiVec<LinkIx, [u64; 5]> = ti_vec![[0_u64; 5]; links.list.len()];
    for &link in &links.order {
        for (group, cells) in beside.get(&link).copied().unwrap_or_default().into_iter().enumerate() {
            above[link][group] += cells;
        }
        if let Some(next) = links.next[link] {
            let own = above[link];
            for (total, cells) in above[next].iter_mut().zip(own) {
                *total += cells;
            }
        }
    }
    let number = |cells: &[u64; 5]| {
        if cells[4] > 0 {
            return Err(ToMeasure::SoilGroupAbove { hectares: hectares(study, cells[4]).hectares() });
        }
        let parts: Vec<_> =
            cells[..4].iter().zip(cover.curve_numbers).map(|(&cells, cn)| (hectares(study, cells), cn)).collect();
        Ok(CurveNumber::weighted(&parts)?)
    };
    Ok(above.iter().map(number).collect())
}
