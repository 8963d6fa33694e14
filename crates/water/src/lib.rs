//! Water properties, pipes and pipe friction.
