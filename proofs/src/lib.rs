//! Published cases as data, and the one runner that checks them.
