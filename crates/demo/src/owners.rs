//! Invented owners. Several own more than one parcel.

use crate::lot_part::LotPart;
use crate::noise::pick;

const OWNERS: [&str; 40] = [
    "Bramwell Quillfeather",
    "Odile Farrowgate",
    "Teasel Growers Co-operative",
    "Caspian Muddlecroft",
    "Hester Plumbridle",
    "Ivo Tanglewick",
    "Perpetua Oatsworth",
    "Larkspur Acres Inc.",
    "Leopold Brindlemere",
    "Mirabel Stoneapple",
    "Jorin Hayfellow",
    "Winsome Cattlebury",
    "Otto Rushlight",
    "Sunniva Copperfallow",
    "Eustace Barleymow",
    "Fennimore Wheelwarden",
    "Clover and Sons Ltd.",
    "Gwendolen Mossgrove",
    "Anselm Turnipseed",
    "Tabitha Longfurrow",
    "Rufus Candlebrook",
    "Philippa Wetherstile",
    "Barnabas Dovecotte",
    "Isolde Sparrowmead",
    "Septimus Gorsefield",
    "Marigold Hatchpenny",
    "Cuthbert Ploverdale",
    "Ottoline Reedwater",
    "Hugo Bellfodder",
    "Verity Appledrum",
    "Lambert Nettleshaw",
    "Rosamund Tillershade",
    "Ambrose Hollowbarn",
    "Delphine Oxbridle",
    "Ulric Saltmarrow",
    "Henrietta Cloverlight",
    "Silas Thornpocket",
    "Beatrix Lanternhay",
    "Crispin Fodderwell",
    "Wilhelmina Ashplough",
];

/// The owner of a parcel and, of one in six, the co-owners.
pub(crate) fn owner(concession: usize, lot: usize, part: LotPart) -> (String, Option<String>) {
    let (i, j) = ((10 * concession + lot) as i32, part as i32);
    let first = pick(31, i, j, OWNERS.len());
    let co_owner = OWNERS[(first + 1 + pick(32, i, j, OWNERS.len() - 1)) % OWNERS.len()];
    let shared = pick(33, i, j, 6) == 0;
    (OWNERS[first].into(), shared.then(|| co_owner.into()))
}
