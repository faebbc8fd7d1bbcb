"""What is kept between two runs and where: the cache, the folders in use, one build at a time, the shelf."""
