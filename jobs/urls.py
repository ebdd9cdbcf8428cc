from django.urls import URLPattern, URLResolver, path

from jobs.views import boards, checks, customers, cut_list, jobs, pours, rules, schedules, slab

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
    path("jobs/<int:pk>/end/", jobs.end, name="job-end"),
    path("jobs/<int:pk>/schedule/", schedules.bring, name="job-schedule"),
    path("jobs/<int:pk>/schedule/look/", schedules.preview, name="job-schedule-preview"),
    path("jobs/schedule-template/", schedules.template, name="schedule-template"),
    path("jobs/<int:pk>/cut-list/", cut_list.table, name="job-cut-list"),
    path("panels/<int:pk>/", cut_list.panel, name="panel"),
    path("pours/<int:pk>/move/", pours.move, name="pour-move"),
    path("jobs/<int:pk>/check/", checks.ask, name="job-check"),
    path("jobs/<int:pk>/decline/", checks.decline, name="job-decline"),
    path("checks/<int:pk>/", checks.check, name="check"),
    path("checks/<int:pk>/working/", checks.part, name="check-part"),
    path("checks/<int:pk>/cancel/", checks.cancel, name="check-cancel"),
    path("checks/<int:pk>/accept/", checks.accept, name="check-accept"),
    path("deliveries/<int:pk>/docket/", checks.open_docket, name="delivery-docket"),
    path("take-off-rules/", rules.RuleList.as_view(), name="take-off-rules"),
    path("take-off-rules/new/", rules.new, name="take-off-rule-new"),
    path("take-off-rules/<int:pk>/", rules.rule, name="take-off-rule"),
    path("slab/", slab.slab, name="slab"),
    path("slab/press/", slab.press, name="slab-press"),
]
