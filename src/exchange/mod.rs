//! Doors to paper and to other programs: project to bytes, bytes to rows and problems. Pure.
