//! Sun position, clear and measured sky, sun on tilted surfaces, glass.
