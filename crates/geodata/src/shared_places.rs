//! Layers whose features run over the same places, which are projected once.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;

use serde::Serialize;

use crate::geojson_file::{BUFFER, begin, end, rounded_degrees};
use crate::write_error::WriteError;
use crate::{Crs, Projector};

/// A line that may run on as one does that was written before it.
#[derive(Clone, Debug)]
pub struct SharedLine<P> {
    pub properties: P,
    /// Its points up to where it runs on as another. Without any, and without [`Self::then`], it has no geometry.
    pub own: Vec<(f64, f64)>,
    /// Positions among its own points, rising, from where on later lines may run as this one does.
    pub joints: Vec<usize>,
    /// Runs on from this joint, counted from 0 through all lines in their order.
    pub then: Option<usize>,
}

/// What is kept of the lines written: the text of their points from the first joint on.
#[derive(Default)]
struct Written {
    text: Vec<u8>,
    stretches: Vec<Run>,
    /// Stretch, and where it begins in the text.
    joints: Vec<(usize, usize)>,
}

/// The kept points of one line.
struct Run {
    end: usize,
    then: Option<usize>,
}

impl Written {
    /// Keeps the points of a line from its first joint on, `points` with the offset of each in `text`.
    fn keep(&mut self, text: &[u8], points: &[usize], line_joints: &[usize], then: Option<usize>) {
        let Some(&first) = line_joints.first() else { return };
        let before = self.text.len();
        let place = |&joint: &usize| (self.stretches.len(), before + points[joint] - points[first]);
        self.joints.extend(line_joints.iter().map(place));
        self.text.extend_from_slice(&text[points[first]..]);
        self.stretches.push(Run { end: self.text.len(), then });
    }

    /// The text of all points from a joint on, a comma before each.
    fn from(&self, joint: Option<usize>) -> impl Iterator<Item = &[u8]> {
        let at = |joint: usize| self.joints[joint];
        let next = move |&(stretch, _): &(usize, usize)| self.stretches[stretch].then.map(at);
        let places = std::iter::successors(joint.map(at), next);
        places.map(|(stretch, start)| &self.text[start..self.stretches[stretch].end])
    }
}

pub(crate) fn write_lines<P: Serialize>(
    path: &Path,
    name: &str,
    lines: impl Iterator<Item = SharedLine<P>>,
    crs: &Crs,
) -> Result<(), WriteError> {
    let projector = Projector::to_lonlat(crs)?;
    let mut file = BufWriter::with_capacity(BUFFER, File::create(path)?);
    begin(&mut file, name)?;
    let mut written = Written::default();
    let (mut text, mut points) = (Vec::new(), Vec::new());
    for (index, line) in lines.enumerate() {
        text.clear();
        points.clear();
        for point in projector.points(&line.own)? {
            points.push(text.len());
            text.push(b',');
            serde_json::to_writer(&mut text, &place(point)).map_err(std::io::Error::from)?;
        }
        file.write_all(if index == 0 { b"\n" } else { b",\n" })?;
        if text.is_empty() && line.then.is_none() {
            file.write_all(br#"{"type":"Feature","geometry":null,"properties":"#)?;
        } else {
            file.write_all(br#"{"type":"Feature","geometry":{"type":"LineString","coordinates":["#)?;
            let mut comma = 1;
            for part in std::iter::once(text.as_slice()).chain(written.from(line.then)).filter(|part| !part.is_empty())
            {
                file.write_all(&part[comma..])?;
                comma = 0;
            }
            file.write_all(br#"]},"properties":"#)?;
        }
        serde_json::to_writer(&mut file, &line.properties).map_err(std::io::Error::from)?;
        file.write_all(b"}")?;
        written.keep(&text, &points, &line.joints, line.then);
    }
    end(file)
}

pub(crate) fn write_points<P: Serialize>(
    path: &Path,
    name: &str,
    places: &[(f64, f64)],
    features: impl Iterator<Item = (usize, P)>,
    crs: &Crs,
) -> Result<(), WriteError> {
    let projector = Projector::to_lonlat(crs)?;
    let mut features = features.peekable();
    if let Some(&(first, _)) = features.peek() {
        projector.point(places[first])?;
    }
    let places: Vec<[f64; 2]> = projector.points(places)?.into_iter().map(place).collect();
    let mut file = BufWriter::with_capacity(BUFFER, File::create(path)?);
    begin(&mut file, name)?;
    for (index, (at, properties)) in features.enumerate() {
        file.write_all(if index == 0 { b"\n" } else { b",\n" })?;
        file.write_all(br#"{"type":"Feature","geometry":{"type":"Point","coordinates":"#)?;
        serde_json::to_writer(&mut file, &places[at]).map_err(std::io::Error::from)?;
        file.write_all(br#"},"properties":"#)?;
        serde_json::to_writer(&mut file, &properties).map_err(std::io::Error::from)?;
        file.write_all(b"}")?;
    }
    end(file)
}

fn place((longitude, latitude): (f64, f64)) -> [f64; 2] {
    [rounded_degrees(longitude), rounded_degrees(latitude)]
}

#[cfg(test)]
mod tests {
    use std::fs;

    use geo::LineString;
    use serde_json::{Value, json};

    use super::*;
    use crate::{OutputFolder, Streamed};

    fn crs() -> Crs {
        Crs::from_text("EPSG:26917").unwrap()
    }

    fn at(number: usize) -> (f64, f64) {
        (430_000.0 + 13.7 * number as f64, 4_850_000.0 - 7.1 * (number * number) as f64)
    }

    fn properties(number: usize) -> Value {
        json!({ "number": number, "text": "ä\"" })
    }

    /// Lines by their numbered points, written whole as any layer is, and with what they share.
    fn check(whole: &[&[usize]], shared: &[(&[usize], &[usize], Option<usize>)]) {
        let folder = tempfile::tempdir().unwrap();
        let mut out = OutputFolder::create(&folder.path().join("out"), false).unwrap();
        let feature = |(number, line): (usize, &&[usize])| geojson::Feature {
            bbox: None,
            geometry: (!line.is_empty())
                .then(|| (&geo::Geometry::from(line.iter().map(|&point| at(point)).collect::<LineString>())).into()),
            id: None,
            properties: properties(number).as_object().cloned(),
            foreign_members: None,
        };
        let features = Streamed::new(|| whole.iter().enumerate().map(feature));
        out.write_geojson("whole.geojson", &features, &crs()).unwrap();
        let lines = shared.iter().enumerate().map(|(number, (own, joints, then))| SharedLine {
            properties: properties(number),
            own: own.iter().map(|&point| at(point)).collect(),
            joints: joints.to_vec(),
            then: *then,
        });
        out.write_lines("shared.geojson", lines, &crs()).unwrap();
        out.commit().unwrap();
        let read = |name: &str| fs::read_to_string(folder.path().join("out").join(name)).unwrap();
        assert_eq!(read("shared.geojson"), read("whole.geojson").replace("\"whole\"", "\"shared\""));
    }

    /// Oracle: every line written whole.
    #[test]
    fn lines_that_share_points_are_written_as_if_they_did_not() {
        check(&[], &[]);
        check(&[&[1, 2, 3], &[]], &[(&[1, 2, 3], &[], None), (&[], &[], None)]);
        // 4 joins at 2, 5 at 3, and one begins at 3.
        check(
            &[&[1, 2, 3, 9], &[4, 2, 3, 9], &[5, 3, 9], &[3, 9]],
            &[(&[1, 2, 3, 9], &[1, 2], None), (&[4], &[], Some(0)), (&[5], &[], Some(1)), (&[], &[], Some(1))],
        );
        // 4 joins the first line, 5 joins the second before it does.
        check(
            &[&[1, 2, 3], &[4, 6, 7, 2, 3], &[5, 7, 2, 3]],
            &[(&[1, 2, 3], &[1], None), (&[4, 6, 7], &[2], Some(0)), (&[5], &[], Some(1))],
        );
    }

    /// Oracle: each point written as any layer is.
    #[test]
    fn points_are_written_as_those_of_any_layer() {
        let folder = tempfile::tempdir().unwrap();
        let mut out = OutputFolder::create(&folder.path().join("out"), false).unwrap();
        let order = [2, 0, 2, 1];
        let feature = |number: usize| geojson::Feature {
            bbox: None,
            geometry: Some((&geo::Geometry::from(geo::Point::from(at(order[number])))).into()),
            id: None,
            properties: properties(number).as_object().cloned(),
            foreign_members: None,
        };
        out.write_geojson("whole.geojson", &Streamed::new(|| (0..4).map(feature)), &crs()).unwrap();
        let features = order.iter().enumerate().map(|(number, &place)| (place, properties(number)));
        out.write_points("shared.geojson", &[0, 1, 2].map(at), features, &crs()).unwrap();
        out.commit().unwrap();
        let read = |name: &str| fs::read_to_string(folder.path().join("out").join(name)).unwrap();
        assert_eq!(read("shared.geojson"), read("whole.geojson").replace("\"whole\"", "\"shared\""));
    }
}
