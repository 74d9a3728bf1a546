"""What a few readings taken by hand say of charge, power, volts and resistance."""
