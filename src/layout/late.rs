//! Where late items go, without moving any other.

use std::cmp::Reverse;

use super::LayoutFault;

/// An item that lies in a tray, or is to lie in one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Lying {
    /// Which item; any number that tells items apart.
    pub item: u64,
    /// Its group: its mother row.
    pub group: u32,
    /// Its batch: its drying batch; the same for all where they are not known.
    pub batch: u32,
}

/// A tray with spare cells.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct OpenTray {
    /// Its spare cells, counted in reading order from 0 or numbered in any other way, in the order in which they are to
    /// be taken.
    pub spare: Vec<usize>,
    /// What lies in its other cells.
    pub lying: Vec<Lying>,
}

/// A cell that a late item takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SpareCell {
    /// The tray, counted from 0.
    pub tray: usize,
    /// The cell, as it is numbered in [`OpenTray::spare`].
    pub cell: usize,
}

/// Picks a spare cell for each late item, one after another; nothing else moves. An item that is named several times
/// gets several cells.
///
/// An item comes to the tray with the fewest of its group; among these to the one with the fewest of its batch, then to
/// the one with the most spare cells left, then to the first. It never comes to a tray that holds it already.
///
/// # Errors
/// [`LayoutFault::NoSpare`] when not all find a cell.
pub fn place_late(trays: &[OpenTray], late: &[Lying]) -> Result<Vec<SpareCell>, LayoutFault> {
    let mut trays = trays.to_vec();
    let mut taken = vec![0; trays.len()];
    let mut places = Vec::with_capacity(late.len());
    for item in late {
        let count = |tray: &OpenTray, is_alike: &dyn Fn(&Lying) -> bool| {
            tray.lying.iter().filter(|lying| is_alike(lying)).count()
        };
        let open = (0..trays.len()).filter(|&number| {
            let tray = &trays[number];
            taken[number] < tray.spare.len() && tray.lying.iter().all(|lying| lying.item != item.item)
        });
        let best = open.min_by_key(|&number| {
            let tray = &trays[number];
            (
                count(tray, &|lying| lying.group == item.group),
                count(tray, &|lying| lying.batch == item.batch),
                Reverse(tray.spare.len() - taken[number]),
            )
        });
        let Some(tray) = best else {
            return Err(LayoutFault::NoSpare {
                late: late.len(),
                placed: places.len(),
            });
        };
        places.push(SpareCell {
            tray,
            cell: trays[tray].spare[taken[tray]],
        });
        taken[tray] += 1;
        trays[tray].lying.push(*item);
    }
    Ok(places)
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use proptest::prelude::*;

    use super::*;

    fn lying(item: u64, group: u32, batch: u32) -> Lying {
        Lying { item, group, batch }
    }

    fn tray(spare: &[usize], lying: &[Lying]) -> OpenTray {
        OpenTray {
            spare: spare.to_vec(),
            lying: lying.to_vec(),
        }
    }

    #[test]
    fn a_late_item_goes_where_its_group_is_rarest_then_its_batch_then_where_most_is_free() {
        let trays = [
            tray(&[30, 31], &[lying(1, 7, 1), lying(2, 8, 1)]),
            tray(&[29, 31], &[lying(3, 8, 2), lying(4, 8, 2)]),
            tray(&[28], &[lying(5, 8, 1), lying(6, 9, 1)]),
            tray(&[], &[]),
        ];
        let cells = |late: &[Lying]| -> Vec<(usize, usize)> {
            let places = place_late(&trays, late).unwrap();
            places.into_iter().map(|place| (place.tray, place.cell)).collect()
        };
        // No other of group 7 in trays 1 and 2; of batch 1 there is none in tray 1.
        assert_eq!(cells(&[lying(10, 7, 1)]), [(1, 29)]);
        // None of group 6 anywhere and none of batch 3: trays 0 and 1 have most spare cells, and 0 is the first.
        assert_eq!(cells(&[lying(10, 6, 3)]), [(0, 30)]);
        // Then tray 1 has most, then 0 and 2 are alike but for the group, then 1 has two of it.
        let four = [10, 11, 12, 13].map(|item| lying(item, 6, 3));
        assert_eq!(cells(&four), [(0, 30), (1, 29), (2, 28), (0, 31)]);
        assert_eq!(cells(&[]), []);
    }

    #[test]
    fn an_item_never_comes_twice_into_a_tray() {
        let trays = [
            tray(&[5, 6, 7], &[]),
            tray(&[9], &[lying(1, 2, 3)]),
            tray(&[4], &[]),
        ];
        let twice = [lying(1, 2, 3), lying(1, 2, 3)];
        let places = place_late(&trays, &twice).unwrap();
        assert_eq!(places.iter().map(|place| place.tray).collect::<Vec<_>>(), [0, 2]);
        let thrice = [lying(1, 2, 3); 3];
        let fault = place_late(&trays, &thrice).unwrap_err();
        assert_eq!(fault, LayoutFault::NoSpare { late: 3, placed: 2 });
        assert!(
            fault
                .to_string()
                .contains("3 cells of late ears are needed, and only 2"),
            "{fault}"
        );
        assert!(place_late(&[], &twice).is_err());
    }

    proptest! {
        #[test]
        fn late_items_take_spare_cells_once_and_stay_even(
            trays in prop::collection::vec((0..12usize, prop::collection::vec((0..40u64, 0..5u32), 0..20)), 1..9),
            late in prop::collection::vec((20..60u64, 0..5u32), 0..40),
        ) {
            let trays: Vec<OpenTray> = trays
                .into_iter()
                .map(|(spare, items)| OpenTray {
                    spare: (100..100 + spare).collect(),
                    lying: items.into_iter().map(|(item, group)| lying(item, group, 0)).collect(),
                })
                .collect();
            let late: Vec<Lying> = late.into_iter().map(|(item, group)| lying(item, group, 0)).collect();
            let spare: usize = trays.iter().map(|tray| tray.spare.len()).sum();
            match place_late(&trays, &late) {
                Ok(places) => {
                    prop_assert_eq!(places.len(), late.len());
                    let cells: BTreeSet<_> = places.iter().map(|place| (place.tray, place.cell)).collect();
                    prop_assert_eq!(cells.len(), late.len());
                    let mut after = trays.clone();
                    for (place, item) in places.iter().zip(&late) {
                        prop_assert!(trays[place.tray].spare.contains(&place.cell));
                        let of_group = |tray: &OpenTray| {
                            tray.lying.iter().filter(|lying| lying.group == item.group).count()
                        };
                        let holds = |tray: &OpenTray| tray.lying.iter().any(|lying| lying.item == item.item);
                        prop_assert!(!holds(&after[place.tray]));
                        let fewer = after.iter().find(|tray| {
                            !tray.spare.is_empty() && !holds(tray) && of_group(tray) < of_group(&after[place.tray])
                        });
                        prop_assert!(fewer.is_none());
                        after[place.tray].lying.push(*item);
                        after[place.tray].spare.remove(0);
                    }
                }
                Err(LayoutFault::NoSpare { late: asked, placed }) => {
                    prop_assert!(asked == late.len() && placed < asked);
                    let repeats = late.iter().any(|one| {
                        late.iter().filter(|other| other.item == one.item).count() > 1 || one.item < 40
                    });
                    prop_assert!(late.len() > spare || repeats);
                }
                Err(fault) => prop_assert!(false, "{fault}"),
            }
        }
    }
}
