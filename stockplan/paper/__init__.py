"""What is printed as PDF: labels with their codes, pick lists, packing slips. No Django in it."""
