"""Makes `models/listener-en`: speech, features, training, graph and check. See ../README.md."""
