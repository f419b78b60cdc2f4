"""The walk over the pieces to search, where to listen on it and where to set sensors."""

from district.survey.walk import SurveyWalk, survey_walk

__all__ = ["SurveyWalk", "survey_walk"]
