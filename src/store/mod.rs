//! Files: the project file, its journal, its lock, and nothing lost. Effects.
