"""Every input, where it starts, and the build all of them make."""
