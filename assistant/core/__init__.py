"""The pure core: no clock, disk, device or thread lives here, and nothing here imports one."""
