//! Published values and other libraries as judges.
