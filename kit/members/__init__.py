"""Members: load cases, materials and resistances."""
