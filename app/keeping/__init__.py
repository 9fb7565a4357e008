"""What outlives the window: work kept against a crash, locks that windows see of each other, and the log."""
