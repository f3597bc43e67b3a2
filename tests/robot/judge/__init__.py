"""The judge: a simulated faulty board read through ngspice. It shares no code with the solver that it judges."""
