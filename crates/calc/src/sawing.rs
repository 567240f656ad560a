//! Sawing pieces from bars and rings: how many come out of one blank, how many blanks a batch takes, what is left of a bar.
//!
//! It knows of lengths only: what a blank weighs and costs is `stock`'s.

/// A sum of lengths that misses a whole number by less is that whole number.
pub(crate) const HAIR: f64 = 1e-9;

/// How a batch comes out of its blanks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sawn {
    /// Pieces from one blank, from the fullest where they differ.
    pub pieces_per_blank: u32,
    /// Blanks for all of them.
    pub blanks_needed: u32,
}

/// How `count` pieces that each take `sawn_mm` of a blank, the saw's width with it, come out of blanks with `free_mm` for them. No piece
/// comes out where one takes more than there is.
pub fn alike(count: u32, sawn_mm: f64, free_mm: f64) -> Sawn {
    // Held at 0 and far under u32::MAX by the ranges of the lengths.
    let pieces_per_blank = (free_mm / sawn_mm + HAIR).floor().clamp(0.0, 1e9) as u32;
    Sawn { pieces_per_blank, blanks_needed: count.div_ceil(pieces_per_blank.max(1)) }
}

/// How pieces that take these lengths of a blank, mm, the saw's width with each, come out of blanks with `free_mm` for them: the longest
/// first, each from the first blank that has room. No piece comes out where one of them takes more than there is.
///
/// Source: first fit decreasing, at most 11/9 of the fewest blanks and 6/9 of one (Johnson 1973, Dósa 2007; from memory).
pub fn unlike(sawn_mm: &[f64], free_mm: f64) -> Sawn {
    let mut longest_first = sawn_mm.to_vec();
    longest_first.sort_by(|a, b| b.total_cmp(a));
    let mut blanks: Vec<(f64, u32)> = Vec::new();
    for sawn in longest_first {
        let hair = HAIR * sawn;
        match blanks.iter_mut().find(|(left, _)| *left + hair >= sawn) {
            Some((left, pieces)) => (*left, *pieces) = (*left - sawn, *pieces + 1),
            None if sawn <= free_mm + hair => blanks.push((free_mm - sawn, 1)),
            None => return Sawn { pieces_per_blank: 0, blanks_needed: 0 },
        }
    }
    Sawn {
        pieces_per_blank: blanks.iter().map(|(_, pieces)| *pieces).max().unwrap_or(0),
        blanks_needed: u32::try_from(blanks.len()).unwrap_or(u32::MAX),
    }
}

/// What is left of a bar, mm: its length as it came less what was cut off, cuts included; not less than nothing.
pub fn left_mm(length_mm: f64, used_mm: &[f64]) -> f64 {
    used_mm.iter().fold(length_mm, |left, used| left - used).max(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pieces_that_are_alike_come_out_as_by_division_either_way() {
        for (count, sawn, free) in [(1, 216.0, 216.0), (7, 100.0, 305.0), (12, 33.3, 99.9), (3, 50.0, 49.9), (5, 10.1, 1000.0)] {
            let by_division = alike(count, sawn, free);
            let packed = unlike(&vec![sawn; count as usize], free);
            if by_division.pieces_per_blank == 0 {
                assert_eq!(packed.pieces_per_blank, 0);
            } else {
                assert_eq!(packed.blanks_needed, by_division.blanks_needed, "{count} of {sawn} from {free}");
                assert_eq!(packed.pieces_per_blank, by_division.pieces_per_blank.min(count));
            }
        }
    }

    #[test]
    fn pieces_that_differ_share_a_bar_as_they_fit() {
        // One of each lies in a bar of 460. Of bars of 455 their mean, 228, would say that each takes one of its own.
        assert_eq!(unlike(&[213.0, 243.0, 213.0, 243.0, 213.0, 243.0], 460.0), Sawn { pieces_per_blank: 2, blanks_needed: 3 });
        assert_eq!(unlike(&[213.0, 243.0, 213.0, 243.0, 213.0, 243.0], 455.0), Sawn { pieces_per_blank: 2, blanks_needed: 5 });
        assert_eq!(unlike(&[213.0, 243.0], 230.0), Sawn { pieces_per_blank: 0, blanks_needed: 0 }, "the longer is in none");
        assert_eq!(unlike(&[], 230.0), Sawn { pieces_per_blank: 0, blanks_needed: 0 });
    }

    #[test]
    fn a_bar_is_never_less_than_used_up() {
        assert_eq!((left_mm(800.0, &[195.0, 195.0]), left_mm(100.0, &[60.0, 60.0])), (410.0, 0.0));
    }
}
