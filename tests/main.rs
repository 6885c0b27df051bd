//! Tests of the whole system, from outside: the real program, its address, its files.

mod access;
mod attacks;
mod authority;
mod doors;
mod enrolment;
mod faults;
mod files;
mod https;
mod live;
mod log;
mod old_client;
mod photos;
mod power;
mod relay;
mod release;
mod scripts;
mod support;
mod sync;
mod tidy;
