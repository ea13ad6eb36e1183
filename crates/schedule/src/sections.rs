//! The sections of a drain, each flowing into the next.

use fallwright_units::position;
use thiserror::Error;
use typed_index_collections::TiVec;

position!(
    /// A section's position.
    SectionIx
);

/// A length of the drain of which the cost is known by itself.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Section {
    pub id: String,
    /// The section that it flows into; `None` at the outlet.
    pub below: Option<SectionIx>,
}

/// A drain in sections: a tree that flows to its outlet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sections {
    list: TiVec<SectionIx, Section>,
}

#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum FaultySections {
    #[error("section {id:?} flows into a section that does not exist")]
    NoSuchSection { id: String },
    #[error("section {id:?} flows into itself by way of others")]
    Circle { id: String },
}

impl Sections {
    /// # Errors
    /// A section that flows into none of them, or round in a circle.
    pub fn new(list: TiVec<SectionIx, Section>) -> Result<Self, FaultySections> {
        if let Some(section) = list.iter().find(|section| section.below.is_some_and(|below| below.0 >= list.len())) {
            return Err(FaultySections::NoSuchSection { id: section.id.clone() });
        }
        let sections = Self { list };
        let circle = sections.list.keys().find(|&section| sections.from(section).nth(sections.list.len()).is_some());
        match circle {
            Some(section) => Err(FaultySections::Circle { id: sections.list[section].id.clone() }),
            None => Ok(sections),
        }
    }

    pub fn len(&self) -> usize {
        self.list.len()
    }

    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    pub fn id(&self, section: SectionIx) -> &str {
        &self.list[section].id
    }

    pub fn keys(&self) -> impl Iterator<Item = SectionIx> + use<> {
        (0..self.list.len()).map(SectionIx)
    }

    /// A section and those that its water passes on the way to the outlet.
    pub fn from(&self, section: SectionIx) -> impl Iterator<Item = SectionIx> + '_ {
        std::iter::successors(Some(section), |&section| self.list[section].below)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sections(below: &[Option<usize>]) -> Result<Sections, FaultySections> {
        let section = |(number, below): (usize, &Option<usize>)| Section {
            id: format!("S{number}"),
            below: below.map(SectionIx),
        };
        Sections::new(below.iter().enumerate().map(section).collect())
    }

    #[test]
    fn water_passes_every_section_below() {
        let drain = sections(&[None, Some(0), Some(1), Some(1)]).unwrap();
        let check = |from: usize, expected: &[usize]| {
            assert_eq!(drain.from(SectionIx(from)).map(|section| section.0).collect::<Vec<_>>(), expected);
        };
        check(0, &[0]);
        check(2, &[2, 1, 0]);
        check(3, &[3, 1, 0]);
    }

    #[test]
    fn sections_that_lead_nowhere_are_refused() {
        assert_eq!(sections(&[Some(1), Some(0)]), Err(FaultySections::Circle { id: "S0".to_owned() }));
        assert_eq!(sections(&[None, Some(1)]), Err(FaultySections::Circle { id: "S1".to_owned() }));
        assert_eq!(sections(&[Some(7)]), Err(FaultySections::NoSuchSection { id: "S0".to_owned() }));
    }
}
