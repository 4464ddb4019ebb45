"""What a map is made of: frozen data with its checks. No numpy, no Qt."""
