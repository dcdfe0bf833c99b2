"""From prediction to the testing machine and back: plan, records, reduction, comparison, calibration."""
