"""mediacheck verifies media-player cards and display content."""

__version__ = "0.1.0"
