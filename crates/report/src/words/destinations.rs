//! Where water goes: the outlet that it reaches, or what it does instead.

use fallwright_network::{Destination, End, Feature, Trace};
use fallwright_study::Study;

/// Class, id and name of an outlet.
fn outlet_words(study: &Study, outlet: Feature) -> String {
    let class = study.feature_class(outlet);
    let label = study.inputs.profile.class(class).map_or(class, |class| &class.label);
    let name = study.feature_name(outlet).map_or_else(String::new, |name| format!(" ({name})"));
    format!("{label} {}{name}", study.setting.feature_id(outlet))
}

/// What water does that meets no lawful outlet.
const fn end_words(end: End) -> &'static str {
    match end {
        End::Hole => "runs into a hole in the elevation",
        End::KeptDepression => "ends in a real depression",
        End::ClosedLake => "ends in a lake without an outlet",
        End::Edge => "leaves the elevation data without having met a lawful outlet",
    }
}

/// The outlet, or what the water does instead, as the head of a list or table has it.
pub(crate) fn destination_words(study: &Study, destination: Destination) -> String {
    match destination {
        Destination::Outlet(outlet) => outlet_words(study, outlet),
        Destination::End(end) => end_words(end).to_owned(),
    }
}

/// What the water does, as a sentence goes on after "it": `reaches municipal drain D-07 (Elm Drain)`.
pub(crate) fn onward_words(study: &Study, destination: Destination) -> String {
    match destination {
        Destination::Outlet(outlet) => format!("reaches {}", outlet_words(study, outlet)),
        Destination::End(end) => end_words(end).to_owned(),
    }
}

/// Where a path goes; one that the walk left open leaves the data.
pub(crate) fn destination_of(trace: &Trace) -> Destination {
    trace.outlet.map_or(Destination::End(trace.end.unwrap_or(End::Edge)), Destination::Outlet)
}
