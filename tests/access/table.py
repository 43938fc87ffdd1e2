"""Who gets what: one line for each route and method.

Requests carry no content, so a form that was reached answers 200 with its messages, and the API
400. `in` is the way to the sign-in page. `patient` is treated by `therapist`, the records in the
addresses are of `patient`; `colleague` and `admin` work at the same clinic, `outsider` is a
therapist of another one.
"""

COLUMNS = (
    "signed_out",
    "patient",
    "other_patient",
    "therapist",
    "colleague",
    "admin",
    "outsider",
)

TABLE = """
# columns: signed_out, patient, other_patient, therapist, colleague, admin, outsider
home                                 GET     in   302   302   302   302   302   302
home                                 POST   405   405   405   405   405   405   405
account_login                        GET    200   302   302   302   302   302   302
account_login                        POST   200   302   302   302   302   302   302
account_logout                       GET     in   200   200   200   200   200   200
account_logout                       POST    in    in    in    in    in    in    in
account_signup                       GET    200   302   302   302   302   302   302
account_signup                       POST   200   302   302   302   302   302   302
account_change_password              GET     in   200   200   200   200   200   200
account_change_password              POST    in   200   200   200   200   200   200
account_reset_password               GET    200   200   200   200   200   200   200
account_reset_password               POST   200   200   200   200   200   200   200
account_reset_password_done          GET    200   200   200   200   200   200   200
account_reset_password_done          POST   405   405   405   405   405   405   405
account_reset_password_from_key      GET    200   200   200   200   200   200   200
account_reset_password_from_key      POST   200   200   200   200   200   200   200
account_reset_password_from_key_done GET    200   200   200   200   200   200   200
account_reset_password_from_key_done POST   405   405   405   405   405   405   405
invitation_accept                    GET    200   200   200   200   200   200   200
invitation_accept                    POST   200   200   200   200   200   200   200
clinic                               GET     in   404   404   404   404   200   404
clinic                               POST   405   405   405   405   405   405   405
clinic_policy                        GET     in   404   404   404   404   200   404
clinic_policy                        POST    in   404   404   404   404   200   404
clinic_details                       GET     in   404   404   404   404   200   404
clinic_details                       POST    in   404   404   404   404   200   404
clinic_invite_staff                  GET     in   404   404   404   404   200   404
clinic_invite_staff                  POST    in   404   404   404   404   200   404
clinic_role_give                     GET    405   405   405   405   405   405   405
clinic_role_give                     POST    in   404   404   404   404   302   404
clinic_role_end                      GET     in   404   404   404   404   200   404
clinic_role_end                      POST    in   404   404   404   404   302   404
clinic_invitation_revoke             GET    405   405   405   405   405   405   405
clinic_invitation_revoke             POST    in   404   404   404   404   302   404
clinic_invitation_renew              GET    405   405   405   405   405   405   405
clinic_invitation_renew              POST    in   404   404   404   404   302   404
clinic_new_patient                   GET     in   404   404   404   404   200   404
clinic_new_patient                   POST    in   404   404   404   404   200   404
clinic_patient                       GET     in   404   404   404   404   200   404
clinic_patient                       POST   405   405   405   405   405   405   405
clinic_patient_contact               GET     in   404   404   404   404   200   404
clinic_patient_contact               POST    in   404   404   404   404   200   404
clinic_patient_move                  GET    405   405   405   405   405   405   405
clinic_patient_move                  POST    in   404   404   404   404   302   404
clinic_patient_invite                GET    405   405   405   405   405   405   405
clinic_patient_invite                POST    in   404   404   404   404   302   404
clinic_patient_discharge             GET     in   404   404   404   404   200   404
clinic_patient_discharge             POST    in   404   404   404   404   302   404
patient_new                          GET     in   404   404   200   200   404   200
patient_new                          POST    in   404   404   200   200   404   200
patient_invite                       GET     in   404   404   200   404   404   404
patient_invite                       POST    in   404   404   302   404   404   404
patient_details                      GET     in   404   404   200   404   404   404
patient_details                      POST    in   404   404   200   404   404   404
about                                GET    200   200   200   200   200   200   200
about                                POST   405   405   405   405   405   405   405
healthz                              GET    200   200   200   200   200   200   200
healthz                              POST   405   405   405   405   405   405   405
demo_mailbox                         GET    404   404   404   404   404   404   404
demo_mailbox                         POST   405   405   405   405   405   405   405
demo_mail                            GET    404   404   404   404   404   404   404
demo_mail                            POST   405   405   405   405   405   405   405
api_schema                           GET    403   403   403   200   200   200   200
api_schema                           POST   403   403   403   405   405   405   405
today                                GET     in   200   200   404   404   404   404
today                                POST   405   405   405   405   405   405   405
yesterday                            GET     in   200   200   404   404   404   404
yesterday                            POST    in   200   200   404   404   404   404
session_not_done                     GET     in   200   200   404   404   404   404
session_not_done                     POST    in   200   200   404   404   404   404
today_pause                          GET     in   200   200   404   404   404   404
today_pause                          POST    in   200   200   404   404   404   404
next_morning                         GET     in   200   404   404   404   404   404
next_morning                         POST    in   200   404   404   404   404   404
reminder_stop                        GET    200   200   200   200   200   200   200
reminder_stop                        POST   200   200   200   200   200   200   200
session_start                        GET    405   405   405   405   405   405   405
session_start                        POST    in   302   302   404   404   404   404
session                              GET     in   200   404   404   404   404   404
session                              POST   405   405   405   405   405   405   405
session_before                       GET    405   405   405   405   405   405   405
session_before                       POST    in   422   404   404   404   404   404
session_set                          GET    405   405   405   405   405   405   405
session_set                          POST    in   302   404   404   404   404   404
session_undo                         GET    405   405   405   405   405   405   405
session_undo                         POST    in   302   404   404   404   404   404
session_stop                         GET     in   200   404   404   404   404   404
session_stop                         POST    in   200   404   404   404   404   404
session_stopped                      GET     in   200   404   404   404   404   404
session_stopped                      POST   405   405   405   405   405   405   405
session_finish                       GET     in   200   404   404   404   404   404
session_finish                       POST    in   200   404   404   404   404   404
session_done                         GET     in   302   404   404   404   404   404
session_done                         POST   405   405   405   405   405   405   405
api_sessions                         GET    403   200   200   200   200   200   200
api_sessions                         POST   403   400   400   404   404   404   404
api_session                          GET    403   200   404   403   403   403   403
api_session                          POST   403   405   405   403   403   403   403
api_session_sets                     GET    403   405   405   403   403   403   403
api_session_sets                     POST   403   400   404   403   403   403   403
api_session_sets                     DELETE 403   400   404   403   403   403   403
api_session_pain                     GET    403   405   405   403   403   403   403
api_session_pain                     POST   403   400   404   403   403   403   403
api_session_stops                    GET    403   405   405   403   403   403   403
api_session_stops                    POST   403   400   404   403   403   403   403
api_session_finish                   GET    403   405   405   403   403   403   403
api_session_finish                   POST   403   200   404   403   403   403   403
api_flags                            GET    403   403   403   200   200   200   200
api_flags                            POST   403   403   403   405   405   405   405
progress                             GET     in   200   200   404   404   404   404
progress                             POST   405   405   405   405   405   405   405
reminder_preference                  GET     in   200   200   404   404   404   404
reminder_preference                  POST    in   200   200   404   404   404   404
readyz                               GET    200   200   200   200   200   200   200
readyz                               POST   405   405   405   405   405   405   405
library                              GET     in   404   404   200   200   200   200
library                              POST   405   405   405   405   405   405   405
ladders                              GET     in   404   404   200   200   200   200
ladders                              POST   405   405   405   405   405   405   405
ladder                               GET     in   404   404   200   200   200   404
ladder                               POST   405   405   405   405   405   405   405
exercise                             GET     in   404   404   200   200   200   404
exercise                             POST   405   405   405   405   405   405   405
program                              GET     in   404   404   200   404   404   404
program                              POST   405   405   405   405   405   405   405
program_new                          GET     in   404   404   200   404   404   404
program_new                          POST    in   404   404   200   404   404   404
program_edit                         GET     in   404   404   200   404   404   404
program_edit                         POST    in   404   404   200   404   404   404
program_issue                        GET     in   404   404   200   404   404   404
program_issue                        POST    in   404   404   200   404   404   404
program_pause                        GET     in   404   404   200   404   404   404
program_pause                        POST    in   404   404   200   404   404   404
program_resume                       GET    405   405   405   405   405   405   405
program_resume                       POST    in   404   404   302   404   404   404
program_complete                     GET     in   404   404   200   404   404   404
program_complete                     POST    in   404   404   302   404   404   404
program_discard                      GET     in   404   404   200   404   404   404
program_discard                      POST    in   404   404   302   404   404   404
program_print                        GET     in   404   404   200   404   404   404
program_print                        POST   405   405   405   405   405   405   405
program_revision                     GET     in   404   404   200   404   404   404
program_revision                     POST   405   405   405   405   405   405   405
api_exercises                        GET    403   403   403   200   200   200   200
api_exercises                        POST   403   403   403   405   405   405   405
api_programs                         GET    403   200   200   200   200   200   200
api_programs                         POST   403   405   405   405   405   405   405
api_program                          GET    403   200   404   200   404   404   404
api_program                          POST   403   405   405   405   405   405   405
clinic_reminders                     GET     in   404   404   404   404   200   404
clinic_reminders                     POST   405   405   405   405   405   405   405
caseload                             GET     in   404   404   200   200   404   200
caseload                             POST   405   405   405   405   405   405   405
patient                              GET     in   404   404   200   404   404   404
patient                              POST   405   405   405   405   405   405   405
follow_up_new                        GET     in   404   404   200   404   404   404
follow_up_new                        POST    in   404   404   200   404   404   404
paper_log                            GET     in   404   404   200   404   404   404
paper_log                            POST    in   404   404   200   404   404   404
flag_acknowledge                     GET    405   405   405   405   405   405   405
flag_acknowledge                     POST    in   404   404   302   404   404   404
flag_follow_up                       GET     in   404   404   200   404   404   404
flag_follow_up                       POST    in   404   404   200   404   404   404
flag_close                           GET     in   404   404   200   404   404   404
flag_close                           POST    in   404   404   200   404   404   404
follow_up_done                       GET     in   404   404   200   404   404   404
follow_up_done                       POST    in   404   404   302   404   404   404
"""
