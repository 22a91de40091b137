"""What a producer gets from a mix, as plain numbers, and how much of a fault a reading is evidence for."""
