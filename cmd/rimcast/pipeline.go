package main

import (
	"context"
	"errors"

	"rimcast/reports"
)

// screenSurvey is the only place that joins maps to the science.
func screenSurvey(ctx context.Context, sv *surveyFile, prog progress) (*reports.Survey, error) {
	return nil, errors.New("not wired yet")
}
