//! The resident: search and evaluation. Knows the core only.
