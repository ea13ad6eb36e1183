//! One measurement a run, so that peak memory is that of the measurement alone: `fallwright-benches WHAT RASTER THREADS
//! RESULT` reads a raster of 32-bit floats, runs WHAT, and writes a JSON object to RESULT.

mod border;
mod case;
mod clock;
mod digest;
mod measure;
mod raster_file;
mod terrain;

use std::path::Path;

use anyhow::{Context, Result, bail};

fn main() -> Result<()> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    match words[..] {
        ["terrain", side, raster] => {
            raster_file::write(Path::new(raster), &terrain::terrain(side.parse().context("the side in cells")?))
        }
        ["case", side, parcels, folder] => case::write(
            Path::new(folder),
            side.parse().context("the side in cells")?,
            parcels.parse().context("the number of parcels")?,
        ),
        [what, raster, threads, result] => {
            let threads = threads.parse().context("the number of threads")?;
            rayon::ThreadPoolBuilder::new().num_threads(threads).build_global()?;
            let measured = match what {
                "copy" => measure::copy(Path::new(raster))?,
                "control" => measure::control(threads),
                "textbook" => measure::textbook(Path::new(raster))?,
                "border" => border::border(Path::new(raster))?,
                "engine" => measure::engine(Path::new(raster))?,
                _ => bail!("nothing is measured under the name {what}"),
            };
            std::fs::write(result, measured.to_string()).with_context(|| format!("writing {result}"))
        }
        _ => bail!(
            "usage: fallwright-benches terrain SIDE RASTER | case SIDE PARCELS FOLDER | WHAT RASTER THREADS RESULT"
        ),
    }
}
