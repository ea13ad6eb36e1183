//! Pictures that people can use: the overview page, printable sheets and profiles.

mod case_sheets;
mod click;
mod doubts;
mod furniture;
mod letters;
mod maps;
mod names;
mod overview;
mod page_parcels;
mod parcel_sheets;
mod pdfs;
mod profiles;
mod shade;

use std::path::{Path, PathBuf};

use fallwright_geodata::OutputFolder;
use fallwright_report::{Block, Furniture, Paper, Profile, Sheet, overview_page, profile_csv, sheet_svg};
use serde_json::{Value, json};

use crate::Progress;
use crate::failure::{Failure, Settings};
use crate::inputs::read_inputs;
use crate::outlets::{Results, counts, require_parcels, settings_of};
use crate::output::output_folder;
use crate::place::parcel;
use crate::run_record::{RunRecord, input_digests, input_files};

use self::names::file_part;
use self::parcel_sheets::ParcelSheets;
use self::pdfs::Pdfs;

/// What is drawn, and what stands on it.
#[derive(Clone, Debug, Default)]
pub struct SheetsOptions {
    /// The day that stands on every page, as `2026-11-25`.
    pub run_date: String,
    pub parcels: SheetParcels,
    pub paper: Paper,
    /// Whether there are PDFs as well.
    pub pdf: bool,
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

pub struct SheetsReport {
    summary: Value,
    lines: Vec<String>,
    /// Parcels that the data could not decide.
    pub undecided: usize,
}

impl SheetsReport {
    pub fn lines(&self) -> Vec<String> {
        self.lines.clone()
    }

    pub fn json(&self) -> Value {
        self.summary.clone()
    }
}

/// Judges a case as [`crate::outlets`] does and draws what it found.
///
/// # Errors
/// As [`crate::outlets`]; an unknown parcel; a font file that is none; characters that no font has.
pub fn sheets(
    case: &Path,
    out: &Path,
    options: &SheetsOptions,
    settings: &Settings,
    progress: Progress,
) -> Result<SheetsReport, Failure> {
    let mut pdfs = options.pdf.then(|| Pdfs::new(&options.fonts)).transpose()?;
    let inputs = read_inputs(case, settings, progress)?;
    require_parcels(&inputs)?;
    let fonts = options.fonts.iter().map(PathBuf::as_path);
    let read: Vec<&Path> = input_files(&inputs.case).into_iter().chain(fonts).collect();
    let mut folder = output_folder(out, &read, settings)?;
    let mut results = Results::work_out(inputs, progress)?;
    results.describe_parcels();
    let asked = asked(&results, &options.parcels)?;
    progress("drawing the overview page");
    let mut digests = input_digests(&results.study.inputs.case)?;
    let furniture = furniture::furniture(&results.study, &options.run_date, &digests);
    let content = overview::overview(&results, furniture.clone());
    let page = overview_page(&content);
    folder.write_bytes("overview.html", page.as_bytes())?;
    let mut drawing = Drawing { results: &results, furniture: &furniture, options, folder: &mut folder, files: 1 };
    let mut sets = vec![
        ("situation", vec![named("situation".to_owned(), case_sheets::situation(&results, &furniture, options.paper))]),
        (
            "doubts",
            vec![named(
                "doubts".to_owned(),
                case_sheets::doubt_sheet(&results, &content.doubts, &furniture, options.paper),
            )],
        ),
    ];
    progress("drawing sheets and profiles");
    sets.extend(drawing.parcel_sets(&asked));
    drawing.write_profiles(&asked)?;
    for (name, sheets) in sets.into_iter().filter(|(_, sheets)| !sheets.is_empty()) {
        drawing.write_set(name, sheets, pdfs.as_mut(), progress)?;
    }
    pdfs.map_or(Ok(()), Pdfs::refuse_missing)?;
    let files = drawing.files;
    let counts = counts(&results.study, &results.findings, &results.changes, &results.filled);
    digests.extend(pdfs::font_digests(&options.fonts)?);
    let mut settings = settings_of(&results.study);
    settings["run_date"] = json!(options.run_date);
    settings["paper"] = json!(options.paper.name());
    RunRecord { command: "sheets", settings, counts: counts.clone(), notes: &results.study.notes }
        .write(&mut folder, digests)?;
    folder.commit()?;
    let lines = vec![
        format!("{files} files in {}", out.display()),
        format!(
            "Open {} by double click; it needs no network ({:.1} MB).",
            out.join("overview.html").display(),
            page.len() as f64 / 1e6
        ),
        fallwright_report::CAUTION.to_owned(),
    ];
    let undecided = counts["undecided"].as_u64().unwrap_or_default() as usize;
    let summary = json!({ "out": out.display().to_string(), "files": files, "counts": counts });
    Ok(SheetsReport { summary, lines, undecided })
}

fn asked(results: &Results, parcels: &SheetParcels) -> Result<Vec<usize>, Failure> {
    match parcels {
        SheetParcels::None => Ok(Vec::new()),
        SheetParcels::All => Ok((0..results.parcels.len()).collect()),
        SheetParcels::Ids(ids) => {
            let mut positions = ids.iter().map(|id| parcel(&results.study, id)).collect::<Result<Vec<_>, _>>()?;
            positions.sort_unstable();
            positions.dedup();
            Ok(positions)
        }
    }
}

/// A sheet with its file's name without ending.
type NamedSheet = (String, Sheet);

fn named(name: String, sheet: Sheet) -> NamedSheet {
    (name, sheet)
}

struct Drawing<'a> {
    results: &'a Results,
    furniture: &'a Furniture,
    options: &'a SheetsOptions,
    folder: &'a mut OutputFolder,
    files: usize,
}

impl Drawing<'_> {
    /// One PDF for each kind of sheet, a page or more for each parcel.
    fn parcel_sets(&self, asked: &[usize]) -> Vec<(&'static str, Vec<NamedSheet>)> {
        let own = ParcelSheets { results: self.results, furniture: self.furniture, paper: self.options.paper };
        let part = |parcel: usize| file_part(&self.results.parcels[parcel].properties.parcel_id);
        let numbered = |name: &str, sheets: Vec<Sheet>| -> Vec<NamedSheet> {
            (1..).zip(sheets).map(|(number, sheet)| (format!("{name}_{number}"), sheet)).collect()
        };
        let letters = |parcel: usize| {
            let all = letters::letters(self.results, self.furniture, self.options.paper, parcel);
            numbered(&format!("letter_{}", part(parcel)), all)
        };
        let plans =
            |parcel: usize| numbered(&format!("plan_and_profile_{}", part(parcel)), own.plan_and_profile(parcel));
        vec![
            ("water_paths", asked.iter().map(|&p| (format!("water_path_{}", part(p)), own.water_path(p))).collect()),
            ("arriving", asked.iter().map(|&p| (format!("arriving_{}", part(p)), own.arriving(p))).collect()),
            ("plans_and_profiles", asked.iter().flat_map(|&parcel| plans(parcel)).collect()),
            ("letters", asked.iter().flat_map(|&parcel| letters(parcel)).collect()),
        ]
    }

    /// Numbers the pages and writes each sheet as SVG, and all of them as one PDF.
    fn write_set(
        &mut self,
        name: &str,
        mut set: Vec<NamedSheet>,
        pdfs: Option<&mut Pdfs>,
        progress: Progress,
    ) -> Result<(), Failure> {
        let pages = set.len();
        for (page, (_, sheet)) in (1..).zip(&mut set) {
            sheet.page = (page, pages);
        }
        let pdf_name = format!("{name}.pdf");
        let mut pdf = pdfs.as_ref().map(|pdfs| pdfs.start());
        if pdf.is_some() {
            progress(&format!("drawing {pdf_name}"));
        }
        for (name, sheet) in &set {
            let svg = sheet_svg(sheet);
            self.write(&format!("{name}.svg"), svg.as_bytes())?;
            if let Some(pdf) = &mut pdf {
                pdf.add(&svg).map_err(|error| pdfs::failed(&pdf_name, &error))?;
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
    fn write_profiles(&mut self, asked: &[usize]) -> Result<(), Failure> {
        let study = &self.results.study;
        for waterway in (0..study.setting.waterways.len()).filter(|&waterway| study.setting.waterways[waterway].lawful)
        {
            if let Some(profile) = profiles::along_drain(study, waterway) {
                self.write_profile(
                    &format!("profile_{}", file_part(study.setting.waterways[waterway].id.as_str())),
                    profile,
                )?;
            }
        }
        for &parcel in asked {
            let id = &self.results.parcels[parcel].properties.parcel_id;
            for (number, share) in (1..).zip(&study.shares[parcel]) {
                let path = study.path(parcel, number - 1);
                if share.is_remainder || path.trace.length_m() <= 0.0 {
                    continue;
                }
                let name = format!("Water path of parcel {id}, leaving point {number}");
                let profile = profiles::along_path(study, &path, name);
                self.write_profile(&format!("profile_parcel_{}_{number}", file_part(id)), profile)?;
            }
        }
        Ok(())
    }

    fn write_profile(&mut self, name: &str, profile: Profile) -> Result<(), Failure> {
        self.write(&format!("{name}.csv"), profile_csv(&profile).as_bytes())?;
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
        self.write(&format!("{name}.svg"), sheet_svg(&sheet).as_bytes())
    }

    fn write(&mut self, name: &str, bytes: &[u8]) -> Result<(), Failure> {
        self.folder.write_bytes(name, bytes)?;
        self.files += 1;
        Ok(())
    }
}
