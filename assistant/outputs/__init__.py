"""What people see and what is kept: the terminal and the one module that writes. Only folds over events live here."""
