from django.urls import path

from topout.web.access import accounts, views

urlpatterns = [
    path("sign-in/", views.sign_in, name="sign-in"),
    path("sign-out/", views.sign_out, name="sign-out"),
    path("start/", views.start, name="start"),
    path("code/", views.code, name="code"),
    path("password/", views.password, name="password"),
    path("accounts/", accounts.accounts, name="accounts"),
    path("accounts/new/", accounts.account_new, name="account-new"),
    path("accounts/<int:pk>/", accounts.account_change, name="account-change"),
    path("accounts/<int:pk>/code/", accounts.account_code, name="account-code"),
]
