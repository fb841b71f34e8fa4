"""What readings say: what to ask about a number typed, what counters counted, how machines ran, what stands still."""
