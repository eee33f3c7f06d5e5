//! Tray geometry and randomisation from an explicit seed. Pure.
