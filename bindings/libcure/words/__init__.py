"""What results and pages share in words: durations, places, ground and surfaces, changes, cautions."""
