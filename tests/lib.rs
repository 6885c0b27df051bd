//! Tests of the whole system, from outside.
