"""halfsplit: finds the part that failed in a mains-powered unit, with few and safe readings."""

__version__ = "0.1.0"
