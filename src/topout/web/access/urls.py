from django.urls import path

from topout.web.access import views

urlpatterns = [
    path("sign-in/", views.sign_in, name="sign-in"),
    path("sign-out/", views.sign_out, name="sign-out"),
    path("start/", views.start, name="start"),
    path("accounts/", views.accounts, name="accounts"),
    path("accounts/new/", views.account_new, name="account-new"),
    path("accounts/<int:pk>/", views.account_change, name="account-change"),
]
