"""The compiled core. Private: use the packages above it."""

def build_info() -> tuple[str, str]:
    """Version and build profile (`release` or `debug`) of the compiled core."""
