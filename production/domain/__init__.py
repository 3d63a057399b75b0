"""The pure domain: physics, planning and paperwork of a stock kitchen, without Django, clock or files."""
