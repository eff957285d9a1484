"""The pages to listen on and to practise from."""
