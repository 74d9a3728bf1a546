"""What a few hand readings say about charge, power, volts and resistance."""
