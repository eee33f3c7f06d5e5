//! Statistics: slices in, numbers out, no word of the trade. Pure.
