//! The sheet of a petition: map, tally, who has signed.

use fallwright_units::ParcelIx;
use geo::{Centroid, Geometry};

use super::maps::{Maps, extent_of};
use crate::drawing::{Block, MapLine, MapSign, Outline, Paper, Sheet, SheetMap, SignKind, Table};
use crate::layer::Record;
use crate::overview::Furniture;
use crate::records::petition::{PetitionLandProperties, PetitionRecord, PetitionTestRecord, StageRecord};
use crate::words::{PetitionWords, hectares};

/// Rows of lands on the sheet; the tables hold them all.
const MOST_LANDS: usize = 16;

/// What the sheet says of a petition.
pub(crate) struct PetitionSheet<'a> {
    pub(crate) record: &'a PetitionRecord,
    pub(crate) lands: &'a [Record<PetitionLandProperties>],
    pub(crate) area: &'a geo::MultiPolygon<f64>,
    pub(crate) words: &'a PetitionWords,
}

impl PetitionSheet<'_> {
    pub(crate) fn sheet(&self, maps: &Maps, furniture: &Furniture, paper: Paper) -> Sheet {
        let record = self.record;
        let dated = record.roll_dated.as_ref().map_or("of no stated date".to_owned(), |date| format!("of {date}"));
        let lines = vec![format!(
            "Stage: {}. Area {}: {} of parcels, {} of roads. Counted on the parcel layer {dated}.",
            record.stage,
            hectares(record.area_ha),
            hectares(record.owned_ha),
            hectares(record.road_ha)
        )];
        let mut blocks: Vec<Block> = self.map(maps).into_iter().map(Block::Map).collect();
        blocks.push(Block::Small(
            "Numbers: rows of the table of lands. Thick outlines: parcels all of whose owners have signed.".to_owned(),
        ));
        blocks.push(Block::Table(tests_table(record)));
        if !self.words.firmness.is_empty() {
            blocks.push(Block::Text(self.words.firmness.join(" ")));
        }
        let water = self.words.basin.iter().chain(&self.words.constraints).map(String::as_str);
        blocks.push(Block::Small(water.collect::<Vec<_>>().join(" ")));
        blocks.push(Block::Small(self.words.cautions.join(" ")));
        if !self.words.suggested.is_empty() {
            blocks.push(Block::Small(self.words.suggested.join(" ")));
        }
        blocks.push(Block::Table(self.lands_table()));
        if !record.notes.is_empty() {
            blocks.push(Block::Small(format!("To be known: {}.", record.notes.join("; "))));
        }
        Sheet {
            title: self.words.verdict.clone(),
            lines,
            paper,
            landscape: false,
            blocks,
            furniture: furniture.clone(),
            page: (1, 1),
        }
    }

    fn map(&self, maps: &Maps) -> Option<SheetMap> {
        let signed = |id: &str| {
            self.lands.iter().any(|land| land.properties.signed && land.properties.parcel_id.as_deref() == Some(id))
        };
        let parcels = &maps.results.parcels;
        let outline = |parcel: ParcelIx| {
            if signed(&parcels[parcel].properties.parcel_id) { Outline::Thick } else { Outline::Plain }
        };
        let extent = extent_of([&Geometry::MultiPolygon(self.area.clone())])?;
        let mut map = maps.about(extent, outline);
        let rings = self.area.iter().flat_map(|polygon| std::iter::once(polygon.exterior()).chain(polygon.interiors()));
        let border = rings.map(|ring| MapLine { line: ring.clone(), style: "area" });
        map.lines = map.lines.iter().cloned().chain(border).collect();
        for (number, land) in (1..).zip(self.lands).take(MOST_LANDS) {
            if let Some(at) = land.geometry.as_ref().and_then(Centroid::centroid) {
                map.signs.push(MapSign { at: at.0, kind: SignKind::Number(format!("{number}")) });
            }
        }
        Some(map)
    }

    fn lands_table(&self) -> Table {
        let row = |(number, Record { properties, .. }): (usize, &Record<PetitionLandProperties>)| {
            let id = properties.parcel_id.as_ref().or(properties.road_id.as_ref());
            let signed = if properties.signed { "yes" } else { "no" };
            vec![
                number.to_string(),
                id.cloned().unwrap_or_default(),
                properties.owner.clone().unwrap_or_else(|| "no owner in the roll".to_owned()),
                format!("{:.4}", properties.inside_ha),
                signed.to_owned(),
            ]
        };
        Table {
            heads: ["", "Parcel or road", "Owner, all of whom must sign", "ha inside", "Signed"]
                .map(str::to_owned)
                .to_vec(),
            widths: vec![0.7, 4.2, 6.5, 1.7, 1.3],
            figures: vec![true, false, false, true, false],
            rows: (1..).zip(self.lands).map(row).collect(),
            most_rows: MOST_LANDS,
        }
    }
}

/// Earlier stages first, so that they stand side by side.
fn tests_table(record: &PetitionRecord) -> Table {
    let row = |stage: &str, test: &PetitionTestRecord| {
        let figure = |value: f64| if test.measure == "heads" { format!("{value}") } else { format!("{value:.4} ha") };
        let roads = if test.roads == "counted" { "counted" } else { "not counted" };
        vec![
            stage.to_owned(),
            test.label.clone(),
            roads.to_owned(),
            figure(test.have),
            figure(test.of),
            figure(test.needed),
            if test.met { "met" } else { "not met" }.to_owned(),
        ]
    };
    let earlier = record
        .earlier
        .iter()
        .flat_map(|StageRecord { stage, tests, .. }| tests.iter().map(move |test| row(stage, test)));
    Table {
        heads: ["Stage", "Test", "Roads", "Signed", "Of", "Needed", ""].map(str::to_owned).to_vec(),
        widths: vec![1.4, 5.4, 1.6, 1.8, 1.8, 1.8, 1.2],
        figures: vec![false, false, false, true, true, true, false],
        rows: earlier.chain(record.tests.iter().map(|test| row(&record.stage, test))).collect(),
        most_rows: MOST_LANDS,
    }
}
