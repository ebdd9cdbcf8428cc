from django.urls import URLPattern, URLResolver, path

from jobs.views import boards, customers, cut_list, jobs, pours, rules, schedules, slab

urlpatterns: list[URLPattern | URLResolver] = [
    path("", boards.board, name="board"),
    path("customers/", customers.CustomerList.as_view(), name="customers"),
    path("customers/new/", customers.new, name="customer-new"),
    path("customers/<int:pk>/", customers.customer, name="customer"),
    path("customers/<int:pk>/change/", customers.change, name="customer-change"),
    path("jobs/", jobs.JobList.as_view(), name="jobs"),
    path("jobs/new/", jobs.new, name="job-new"),
    path("jobs/<int:pk>/", jobs.job, name="job"),
    path("jobs/<int:pk>/change/", jobs.change, name="job-change"),
    path("jobs/<int:pk>/schedule/", schedules.bring, name="job-schedule"),
    path("jobs/<int:pk>/schedule/look/", schedules.preview, name="job-schedule-preview"),
    path("jobs/schedule-template/", schedules.template, name="schedule-template"),
    path("jobs/<int:pk>/cut-list/", cut_list.table, name="job-cut-list"),
    path("panels/<int:pk>/", cut_list.panel, name="panel"),
    path("pours/<int:pk>/move/", pours.move, name="pour-move"),
    path("take-off-rules/", rules.RuleList.as_view(), name="take-off-rules"),
    path("take-off-rules/new/", rules.new, name="take-off-rule-new"),
    path("take-off-rules/<int:pk>/", rules.rule, name="take-off-rule"),
    path("slab/", slab.slab, name="slab"),
    path("slab/press/", slab.press, name="slab-press"),
]
