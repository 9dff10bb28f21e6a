package reports

func writeFigures(dir string, s *Survey, opt Options) error { return nil }
