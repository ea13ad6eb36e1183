//! Pictures that people can use: the overview page, printable sheets and profiles.

use std::path::PathBuf;

use fallwright_geodata::OutputFolder;
use fallwright_study::{Progress, Standings, Study, StudyError};
use fallwright_units::ParcelIx;
use rayon::prelude::*;
use serde_json::json;

use crate::case_records::CaseRecords;
use crate::counts::OutletsCounts;
use crate::drawing::{Block, Paper, Sheet, paged, sheet_svg};
use crate::error::WriteError;
use crate::overview::{Furniture, overview_page};
use crate::profile::Profile;
use crate::relief::Relief;
use crate::run_record::{RunRecord, input_digests, settings_of};
use crate::sheets::incoming::Incoming;
use crate::sheets::maps::Maps;
use crate::sheets::names::file_part;
use crate::sheets::parcel_sheets::ParcelSheets;
use crate::sheets::pdfs::{Pdfs, failed, font_digests};
use crate::sheets::{case_sheets, furniture, letters, overview, profiles};
use crate::tables::profile_csv;

/// Drawn in parallel before they are written (our choice).
const SHEETS_AT_ONCE: usize = 64;

/// What is drawn, and what stands on it.
#[derive(Clone, Debug, Default)]
pub struct SheetsOptions {
    /// The day that stands on every page, as `2026-11-25`.
    pub run_date: String,
    pub parcels: SheetParcels,
    pub paper: Paper,
    /// Font files for characters that the PDFs' own font lacks.
    pub fonts: Vec<PathBuf>,
}

/// Which parcels get sheets of their own.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum SheetParcels {
    /// The page tells about every parcel; sheets are about the whole case only.
    #[default]
    None,
    Ids(Vec<String>),
    All,
}

/// What was drawn.
pub struct SheetsWritten {
    pub counts: OutletsCounts,
    pub files: usize,
    pub page_bytes: usize,
}

/// Draws what was found. Without `pdfs` no PDF is made.
///
/// # Errors
/// An unknown parcel; characters that no font has; inputs that can no longer be read; a folder that cannot be written to.
pub fn write_sheets(
    mut folder: OutputFolder,
    study: &Study,
    standings: &Standings,
    options: &SheetsOptions,
    mut pdfs: Option<Pdfs>,
    progress: Progress,
) -> Result<SheetsWritten, WriteError> {
    let results = CaseRecords::of(study, standings)?;
    let asked = asked(study, &options.parcels)?;
    progress("drawing the overview page");
    let mut digests = input_digests(&study.inputs.case)?;
    let furniture = furniture::furniture(study, &options.run_date, &digests);
    let relief = Relief::of(&study.setting.ground);
    let content = overview::overview(&results, furniture.clone(), &relief);
    let page = overview_page(&content);
    folder.write_bytes("overview.html", page.as_bytes())?;
    let maps = Maps::of(&results, relief);
    let mut drawing = Drawing { maps: &maps, furniture: &furniture, options, folder: &mut folder, files: 1 };
    let doubts = case_sheets::doubt_sheet(&maps, &content.doubts, &furniture, options.paper);
    let mut sets = vec![
        ("situation", vec![("situation".to_owned(), case_sheets::situation(&maps, &furniture, options.paper))]),
        ("doubts", vec![("doubts".to_owned(), doubts)]),
    ];
    progress("drawing sheets and profiles");
    sets.extend(drawing.parcel_sets(&asked));
    drawing.write_profiles(&asked)?;
    for (name, sheets) in sets.into_iter().filter(|(_, sheets)| !sheets.is_empty()) {
        drawing.write_set(name, sheets, pdfs.as_mut(), progress)?;
    }
    pdfs.map_or(Ok(()), Pdfs::refuse_missing)?;
    let files = drawing.files;
    let counts = OutletsCounts::of(study, standings);
    digests.extend(font_digests(&options.fonts)?);
    let mut settings = settings_of(study);
    settings["run_date"] = json!(options.run_date);
    settings["paper"] = json!(options.paper.name());
    RunRecord { command: "sheets", settings, counts: &counts, notes: &study.notes }.write(&mut folder, digests)?;
    folder.commit()?;
    Ok(SheetsWritten { counts, files, page_bytes: page.len() })
}

fn asked(study: &Study, parcels: &SheetParcels) -> Result<Vec<ParcelIx>, StudyError> {
    match parcels {
        SheetParcels::None => Ok(Vec::new()),
        SheetParcels::All => Ok(study.inputs.parcels.keys().collect()),
        SheetParcels::Ids(ids) => {
            let mut positions = ids.iter().map(|id| study.parcel(id)).collect::<Result<Vec<_>, _>>()?;
            positions.sort_unstable();
            positions.dedup();
            Ok(positions)
        }
    }
}

/// A sheet with its file's name without ending.
type NamedSheet = (String, Sheet);

struct Drawing<'a> {
    maps: &'a Maps<'a>,
    furniture: &'a Furniture,
    options: &'a SheetsOptions,
    folder: &'a mut OutputFolder,
    files: usize,
}

/// The files of a profile, by their name without ending.
struct DrawnProfile {
    name: String,
    csv: String,
    svg: String,
}

/// A sheet on as many pages as it needs, whose files are numbered from the second on.
fn on_pages((name, sheet): NamedSheet) -> impl Iterator<Item = NamedSheet> {
    let named = move |(number, sheet): (u32, Sheet)| match number {
        1 => (name.clone(), sheet),
        _ => (format!("{name}_page_{number}"), sheet),
    };
    (1..).zip(paged(sheet)).map(named)
}

impl Drawing<'_> {
    /// One PDF for each kind of sheet, a page or more for each parcel.
    fn parcel_sets(&self, asked: &[ParcelIx]) -> Vec<(&'static str, Vec<NamedSheet>)> {
        let incoming = Incoming::find(self.maps.results.study, asked);
        let (maps, furniture, paper) = (self.maps, self.furniture, self.options.paper);
        let own = ParcelSheets { maps, incoming: &incoming, furniture, paper };
        let part = |parcel: ParcelIx| file_part(&self.maps.results.parcels[parcel].properties.parcel_id);
        let numbered = |name: &str, sheets: Vec<Sheet>| -> Vec<NamedSheet> {
            (1..).zip(sheets).map(|(number, sheet)| (format!("{name}_{number}"), sheet)).collect()
        };
        let letters = |parcel: ParcelIx| numbered(&format!("letter_{}", part(parcel)), letters::letters(&own, parcel));
        let plans =
            |parcel: ParcelIx| numbered(&format!("plan_and_profile_{}", part(parcel)), own.plan_and_profile(parcel));
        let asked = || asked.par_iter().copied();
        vec![
            ("water_paths", asked().map(|p| (format!("water_path_{}", part(p)), own.water_path(p))).collect()),
            ("arriving", asked().map(|p| (format!("arriving_{}", part(p)), own.arriving(p))).collect()),
            ("plans_and_profiles", asked().flat_map_iter(plans).collect()),
            ("letters", asked().flat_map_iter(letters).collect()),
        ]
    }

    /// Numbers the pages and writes each sheet as SVG, and all of them as one PDF.
    fn write_set(
        &mut self,
        name: &str,
        mut set: Vec<NamedSheet>,
        pdfs: Option<&mut Pdfs>,
        progress: Progress,
    ) -> Result<(), WriteError> {
        set = set.into_iter().flat_map(on_pages).collect();
        let pages = set.len();
        for (page, (_, sheet)) in (1..).zip(&mut set) {
            sheet.page = (page, pages);
        }
        let pdf_name = format!("{name}.pdf");
        let mut pdf = pdfs.as_ref().map(|pdfs| pdfs.start());
        if pdf.is_some() {
            progress(&format!("drawing {pdf_name}"));
        }
        for sheets in set.chunks(SHEETS_AT_ONCE) {
            let drawn: Vec<String> = sheets.par_iter().map(|(_, sheet)| sheet_svg(sheet)).collect();
            for ((name, _), svg) in sheets.iter().zip(&drawn) {
                self.write(&format!("{name}.svg"), svg.as_bytes())?;
            }
            if let Some(pdf) = &mut pdf {
                pdf.add(&drawn).map_err(|error| failed(&pdf_name, &error))?;
            }
        }
        let title = set.first().map_or("", |(_, sheet)| sheet.title.as_str());
        if let Some((pdfs, pdf)) = pdfs.zip(pdf)
            && let Some(bytes) = pdfs.finish(&pdf_name, title, &self.options.run_date, pdf)?
        {
            self.write(&pdf_name, &bytes)?;
        }
        Ok(())
    }

    /// Of every lawful waterway, and of the main path of each parcel that was asked for.
    fn write_profiles(&mut self, asked: &[ParcelIx]) -> Result<(), WriteError> {
        let study = self.maps.results.study;
        for (position, waterway) in study.setting.waterways.iter_enumerated().filter(|(_, waterway)| waterway.lawful) {
            if let Some(profile) = profiles::along_drain(study, position) {
                let drawn = self.drawn(format!("profile_{}", file_part(waterway.id.as_str())), profile);
                self.write_profile(&drawn)?;
            }
        }
        for parcels in asked.chunks(SHEETS_AT_ONCE) {
            let drawn = parcels.par_iter().flat_map_iter(|&parcel| self.path_profiles(parcel));
            for drawn in drawn.collect::<Vec<_>>() {
                self.write_profile(&drawn)?;
            }
        }
        Ok(())
    }

    /// Of each path of a parcel.
    fn path_profiles(&self, parcel: ParcelIx) -> impl Iterator<Item = DrawnProfile> {
        let study = self.maps.results.study;
        let id = &self.maps.results.parcels[parcel].properties.parcel_id;
        let shares = study.shares[parcel].iter_enumerated().filter(|(_, share)| !share.is_remainder);
        let paths = shares.map(move |(share, _)| (share.number(), study.path(parcel, share)));
        paths.filter(|(_, path)| path.trace.length_m() > 0.0).map(move |(number, path)| {
            let name = format!("Water path of parcel {id}, leaving point {number}");
            let profile = profiles::along_path(study, &path, name);
            self.drawn(format!("profile_parcel_{}_{number}", file_part(id)), profile)
        })
    }

    fn write_profile(&mut self, drawn: &DrawnProfile) -> Result<(), WriteError> {
        self.write(&format!("{}.csv", drawn.name), drawn.csv.as_bytes())?;
        self.write(&format!("{}.svg", drawn.name), drawn.svg.as_bytes())
    }

    fn drawn(&self, name: String, profile: Profile) -> DrawnProfile {
        let csv = profile_csv(&profile);
        let levels = || profile.points.iter().filter_map(|point| point.ground_m);
        let (first, last) = (levels().next(), levels().next_back());
        let fall = first.zip(last).map(|(first, last)| format!(" and falls {:.2} m", first - last)).unwrap_or_default();
        let sheet = Sheet {
            title: format!("{} runs {:.0} m{fall}", profile.name, profile.length_m()),
            lines: vec![
                "Ground line as surveyed over grey; grade line thick where levels are known; numbers at lot lines."
                    .to_owned(),
            ],
            paper: self.options.paper,
            landscape: true,
            blocks: vec![Block::Profile { profile, stretch: None, exaggeration: None, height_mm: 110.0 }],
            furniture: self.furniture.clone(),
            page: (1, 1),
        };
        DrawnProfile { name, csv, svg: sheet_svg(&sheet) }
    }

    fn write(&mut self, name: &str, bytes: &[u8]) -> Result<(), WriteError> {
        self.folder.write_bytes(name, bytes)?;
        self.files += 1;
        Ok(())
    }
}
