//! What stands on every page beside the map.

use std::fmt::Write;

use fallwright_study::Study;
use sha2::{Digest, Sha256};

use crate::caution::CAUTION;
use crate::overview::{Furniture, SourceFile};
use crate::run_record::settings_of;

const DIGITS: usize = 12;

/// `digests` names every input with its SHA-256.
pub(crate) fn furniture(study: &Study, run_date: &str, digests: &[(String, String)]) -> Furniture {
    let case = &study.inputs.case;
    let is_elevation = |name: &str| {
        case.terrain.elevation.iter().any(|path| path.file_name().is_some_and(|file| file.to_string_lossy() == name))
    };
    let source = |(name, _): &(String, String)| SourceFile {
        name: name.clone(),
        date: case.terrain.flown.clone().filter(|_| is_elevation(name)).map(|flown| format!("flown {flown}")),
    };
    Furniture {
        title: case.name.clone().unwrap_or_else(|| "Case without a name".to_owned()),
        crs: study.inputs.crs.label(),
        heights: format!("metres, as in the elevation data (given in {})", study.inputs.vertical_unit.name()),
        sources: digests.iter().map(source).collect(),
        run_date: run_date.to_owned(),
        version: env!("CARGO_PKG_VERSION").to_owned(),
        settings_digest: digest(study, digests),
        profile: study.inputs.profile.name.clone(),
        caution: CAUTION.to_owned(),
    }
}

fn digest(study: &Study, digests: &[(String, String)]) -> String {
    let mut hash = Sha256::new();
    hash.update(settings_of(study).to_string());
    for (name, digest) in digests {
        hash.update(format!("{name} {digest}\n"));
    }
    let mut text = String::new();
    for byte in hash.finalize() {
        write!(text, "{byte:02x}").expect("writing to a string cannot fail");
    }
    text[..DIGITS].to_owned()
}
